"""What the readings of a moment show of a fault, and what the tool says with a little patience.

Both answer one question about a call: could whoever made it have known? A reading shows something
where it lies outside the range of any sound unit by more than its own uncertainty (k = 2). The
ranges and their sources are those of the diagnosis (`chargeassist.guide.features`); its ranking,
its priors and its thresholds have no part in it.
"""

import asyncio
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.diagnosis import TABLES
from chargeassist.guide.fault_terms import SIGN_WORDS, Direction, Feature
from chargeassist.guide.features import feature_readings
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem, difference, mass, temperature
from chargeassist.model.events import Action, Mark
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.session.scenario.scenario import Scenario
from chargeassist.session.scenario.simulate import run_scenario
from chargeassist.stream.facts import Facts
from chargeassist.trainer.calls import FIXES
from chargeassist.trainer.result import Showed

PATIENCE_S: Final = 600.0
"""So long the tool is given to say something else than "wait" [s] (assumption)."""

_OF_THE_CHARGE: Final = frozenset({Feature.SEAL, Feature.STEP, Feature.FEED})
"""They follow the charge, and say nothing that the judged value does not."""


_OF_THE_WORK: Final = ("hold_", "condition_", "caution_")
_OF_THE_SESSION: Final = frozenset(
    {
        *("no_signal", "no_target", "mass_unknown", "over_full", "up_to_limit", "charge_limit"),
        *("no_value", "no_superheat"),
    }
)
"""Causes of "fix first" that say nothing of a fault."""


@dataclass(frozen=True, slots=True)
class Look:
    """What a moment offers to whoever calls.

    Attributes
    ----------
    said : str
        The tool's instruction, as `about_the_unit` has it; "wait" where it came to nothing else.
    showed : tuple of Showed
        The readings that lie outside the range of a sound unit.
    """

    said: str
    showed: tuple[Showed, ...] = ()


def about_the_unit(said: str, cause: str) -> str:
    """Return an instruction; "wait" for what has to be fixed first without a fault of the unit.

    A frequency that is not held, a filter nobody looked at, a caution not read, an amount that may
    not be exceeded: whoever is told so has been told nothing of what is wrong with the unit.
    """
    of_the_work = cause.startswith(_OF_THE_WORK) or cause in _OF_THE_SESSION
    return Action.WAIT.value if said == Action.FIX_FIRST and of_the_work else said


def showing(job: Job, facts: Facts) -> tuple[Showed, ...]:
    """Return the readings that surely lie outside the range of a sound unit; none unless settled.

    The judged value is left out: that it is off is what the charge is for.
    """
    judged = Feature.SUBCOOLING if job.target.judged is SUBCOOLING else Feature.SUPERHEAT
    found = []
    for each in feature_readings(job, facts):
        if each.feature is judged or each.feature in _OF_THE_CHARGE:
            continue
        off = each.value_si - each.expected_si
        unsure = each.tolerance_si if each.expanded_si is None else each.expanded_si
        if abs(off) - each.tolerance_si > unsure:
            found.append(
                Showed(
                    reading=each.feature.value,
                    sign=SIGN_WORDS[2 if off > 0.0 else 0],
                    value_si=round(each.value_si, 3),
                    low_si=round(each.expected_si - each.tolerance_si, 3),
                    high_si=round(each.expected_si + each.tolerance_si, 3),
                )
            )
    return tuple(found)


def shown_of(word: str, showed: Iterable[Showed], job: Job) -> tuple[Showed, ...]:
    """Return those of `showed` that a fault moves that way, by the table of signs.

    Parameters
    ----------
    word : str
        A key of `FIXES`.
    showed : iterable of Showed
    job : Job
    """
    cause = FIXES[word].cause
    if cause is None:
        return ()
    patterns = TABLES[job.target.judged is not SUBCOOLING][cause]
    return tuple(
        each
        for each in showed
        if any(
            sign.used is not Direction.EITHER and SIGN_WORDS.index(each.sign) - 1 in sign.used.signs
            for pattern in patterns
            if (sign := pattern.signs.get(Feature(each.reading))) is not None
        )
    )


def in_words(each: Showed) -> str:
    """Return a reading with the range it lies outside of, SI."""
    texts = [_amount(each.reading, si) for si in (each.value_si, each.low_si, each.high_si)]
    return f"{each.reading} {each.sign}: {texts[0]}, in a sound unit {texts[1]} to {texts[2]}"


def _amount(reading: str, value_si: float) -> str:
    match Feature(reading):
        case Feature.CHARGE:
            return mass(value_si, UnitSystem.SI)
        case Feature.CURRENT:
            return f"{value_si:.1f} A"
        case Feature.DISCHARGE | Feature.COMPRESSION:
            return temperature(value_si, UnitSystem.SI)
        case _:
            return difference(value_si, UnitSystem.SI)


class Onlooker:
    """Does at the unit what was done until a time, then looks on until the tool says something.

    Parameters
    ----------
    job : Job
    marks : sequence of Mark
        Until then, by time.
    t : float
        The time [s].
    to_the_end : bool
        Whether nothing but "fix first" is enough; else the first thing the tool says.

    Attributes
    ----------
    found : Look
        What came of it.
    finished : bool
    """

    def __init__(self, job: Job, marks: Sequence[Mark], t: float, *, to_the_end: bool) -> None:
        self._job, self._marks, self._t = job, list(marks), t
        self._to_the_end = to_the_end
        self.found = Look(Action.WAIT.value)
        self.finished = False

    def look(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        """Return what was done by now; note what the tool says after the time."""
        due = tuple(mark for mark in self._marks if mark.t <= snapshot.t)
        self._marks = self._marks[len(due) :]
        advice = snapshot.advice
        said = about_the_unit(advice.action.value, advice.cause)
        if not self.finished and snapshot.t > self._t and said != Action.WAIT:
            self.found = Look(said, showing(self._job, snapshot.facts))
            self.finished = said == Action.FIX_FIRST or not self._to_the_end
        self.finished = self.finished or snapshot.t > self._t + PATIENCE_S
        return due


def patiently(
    scenario: Scenario, marks: Iterable[Mark], t: float, *, to_the_end: bool = False
) -> Look:
    """Return what the tool says of a scenario after `t` [s] if nothing more is done to it.

    The same session is run again, with the same noise, to the same readings.

    Parameters
    ----------
    scenario : Scenario
        With a plant.
    marks : iterable of Mark
        Of the whole drill, by time; those from `t` on are left out.
    t : float
    to_the_end : bool
        Whether it is looked at until it says "fix first" or the time is over; else until it says
        anything but "wait".

    Notes
    -----
    A call at the time of a mark comes before it: what a call does is done after it.
    """
    onlooker = Onlooker(scenario.job, [m for m in marks if m.t < t], t, to_the_end=to_the_end)
    asyncio.run(run_scenario(scenario, attendant=onlooker))
    return onlooker.found
