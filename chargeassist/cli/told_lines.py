"""What the technician tells a session of plain lines: one thing a line, on standard input.

::

    caution                             # the caution shown first is read
    done                                # what is asked for is done, as Enter on the dashboard
    1710 kPag                           # the number that is asked for
    liquid_pipe 31.2 °C, 2 min ago      # any number, by its name; with the time it was read
    begin                               # a charge step: the cylinder's valve is open
    end 85 g                            # ... and shut; "end" alone: by the scale
    recovered 40 g
    frequency 72 Hz                     # confirmed on the unit; "frequency lost": no longer held
    frequency 72 Hz, 12 min ago         # ... and held since then
    checked airflow_low                 # a condition
    seen liquid_pressure                # a probe was put right
    stage weigh-in
    skip tightness: tested yesterday, sheet 3
    note rain has begun
    finish                              # ends the session; "abandon" ends it without a charge
"""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass

from chargeassist.cli.plain_output import complain
from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.caution_words import caution_text
from chargeassist.guide.stages.choice import TESTS, known_stage
from chargeassist.guide.stages.course import skip_text
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.errors import ChargeAssistError, ConfigError
from chargeassist.model.events import Mark, MarkKind, Outcome
from chargeassist.model.hazards import Hazard
from chargeassist.model.limits import LimitKey
from chargeassist.model.text import plain
from chargeassist.session.runner import Session
from chargeassist.session.typed_time import Now
from chargeassist.tui import answers

WORDS = (
    "caution, done, a number, an entry's name and its number, begin, end, recovered, frequency, "
    "checked, seen, stage, skip, note, finish, abandon"
)


@dataclass(frozen=True, slots=True)
class Ending:
    """The line that ends the session."""

    outcome: Outcome


class ToldLines:
    """Reads the lines of one session.

    Parameters
    ----------
    system : UnitSystem
        Of bare numbers.
    now : callable
        The present moment.
    full_kg : float
        What the whole circuit takes; more than that in one step looks like a slip.
    """

    def __init__(
        self, system: UnitSystem, now: Callable[[], Now], full_kg: float = math.inf
    ) -> None:
        self._system = system
        self._now = now
        self._full_kg = full_kg
        self._read: set[Hazard] = set()
        self._doubted = ""

    def read(self, line: str, snapshot: Snapshot) -> Mark | Ending | None:
        """Return what a line tells; None for an empty one.

        Parameters
        ----------
        line : str
            What stands behind a hash is a remark, but in a note.
        snapshot : Snapshot
            The newest picture.

        Raises
        ------
        ConfigError
            If it tells nothing that can be: what was expected, what came. Also if it looks like a
            slip; the same line once more is taken.
        """
        text = plain(line, 500).strip()
        word, _, rest = text.partition(" ")
        if word not in {"note", "skip"}:
            text = text.partition("#")[0].strip()
            word, _, rest = text.partition(" ")
        rest = rest.strip()
        if not text:
            return None
        if word in _ALONE and rest:
            more = "; an amount is told at its end, such as 'end 85 g'" if word == "begin" else ""
            raise ConfigError(f"expected {word!r} alone, came {text!r}{more}")
        if word in {"finish", "abandon"}:
            return Ending(Outcome.COMPLETE if word == "finish" else Outcome.ABANDONED)
        if word in _EXAMPLES:
            if not rest:
                raise ConfigError(f"expected more after {word!r}, such as {_EXAMPLES[word]!r}")
            return _about(word, rest, snapshot)
        for other in snapshot.other_marks:
            if other.entry is None and text.casefold() == other.label.casefold():
                return Mark(t=0.0, kind=other.kind, text=other.text)
        return self._of_work(word, rest, text, snapshot)

    def _of_work(self, word: str, rest: str, text: str, snapshot: Snapshot) -> Mark:
        match word:
            case "caution":
                return self._caution(snapshot)
            case "done":
                return self._done(snapshot)
            case "begin":
                unread = self._unread(snapshot)
                if unread:
                    raise ConfigError(
                        f"first the caution, {unread[0].label}: "
                        "type 'caution' once you have read it"
                    )
                if snapshot.stage in TESTS:
                    raise ConfigError(
                        f"no charge in this stage, {snapshot.stage.value}: "
                        "'stage weigh-in' begins the weigh-in"
                    )
                return Mark(t=0.0, kind=MarkKind.STEP_BEGUN)
            case "end":
                amount = answers.amount(rest, self._system, scale=snapshot.scale_heard)
                self._ask_again(answers.doubt(amount, self._full_kg, self._system), text)
                return Mark(t=0.0, kind=MarkKind.STEP_ENDED, mass_kg=amount.mass_kg)
            case "recovered":
                amount = answers.recovered(rest, self._system)
                self._ask_again(answers.doubt(amount, self._full_kg, self._system), text)
                return Mark(t=0.0, kind=MarkKind.STEP_ENDED, **answers.came_out(amount))
            case "frequency":
                if rest == "lost":
                    return Mark(t=0.0, kind=MarkKind.FREQUENCY_LEFT)
                held = answers.frequency_held(rest, now=self._now)
                return Mark(
                    t=0.0,
                    kind=MarkKind.FREQUENCY_HELD,
                    frequency_hz=held.frequency_hz,
                    read_t=held.since_t,
                )
            case "stage":
                return Mark(t=0.0, kind=MarkKind.STAGE_BEGUN, text=_stage(rest))
            case "skip":
                name, colon, why = rest.partition(":")
                stage = known_stage(_stage(name.strip()))
                if stage is None or not colon or not why.strip():
                    raise ConfigError(f"expected 'skip STAGE: why', came {text!r}")
                return Mark(t=0.0, kind=MarkKind.STAGE_SKIPPED, text=skip_text(stage, why.strip()))
            case _:
                return self._number(word, rest, text, snapshot)

    def _number(self, word: str, rest: str, text: str, snapshot: Snapshot) -> Mark:
        """Return the reading a line gives: of the entry it names, else of the one asked for."""
        try:
            entry = Entry(word)
        except ValueError:
            asked = snapshot.waits_for
            if not text[0].isdigit() and text[0] not in "+-−.":
                done = [other.label for other in snapshot.other_marks if other.entry is None]
                also = f", or that something was done ({', '.join(done)})" if done else ""
                raise ConfigError(f"expected one of {WORDS}{also}; came {text!r}") from None
            if asked is None or asked.entry is None:
                raise ConfigError(
                    f"no number is being asked for; say which it is, such as liquid_pressure {text}"
                ) from None
            entry, rest = asked.entry, text
        last = snapshot.facts.entered.get(entry)
        typed = answers.reading(
            rest, entry, self._system, now=self._now, last_t=None if last is None else last.t
        )
        about = typed, entry, snapshot.facts, self._system
        self._ask_again(answers.doubt_line(*about) or answers.doubt_test(*about), text)
        return Mark(
            t=0.0,
            kind=MarkKind.ENTERED,
            text=entry.value,
            value_si=typed.value_si,
            read_t=typed.read_t,
        )

    def _ask_again(self, doubt: str, text: str) -> None:
        """Refuse a line that looks like a slip, but for the one that was just refused for it."""
        again, self._doubted = self._doubted == text, text if doubt else ""
        if doubt and not again:
            raise ConfigError(f"{doubt}; the same line once more is taken")

    def _unread(self, snapshot: Snapshot) -> list[Hazard]:
        return [each for each in snapshot.unread if each not in self._read]

    def caution(self, snapshot: Snapshot) -> Hazard | None:
        """Return the caution that waits beside a running unit; a stage says its own."""
        if snapshot.stage_step is not None or snapshot.finished:
            return None
        return next(iter(self._unread(snapshot)), None)

    def _caution(self, snapshot: Snapshot) -> Mark:
        unread = self._unread(snapshot)
        if not unread:
            raise ConfigError("no caution waits to be read")
        self._read.add(unread[0])
        return Mark(t=0.0, kind=MarkKind.CAUTION_READ, text=unread[0].value)

    def _done(self, snapshot: Snapshot) -> Mark:
        mark = snapshot.waits_for
        if mark is None:
            raise ConfigError("nothing is waiting for an answer")
        if mark.entry is not None:
            example = answers.example(mark.entry, self._system)
            raise ConfigError(f"asked for is a number: {mark.entry.label}, such as {example}")
        return Mark(t=0.0, kind=mark.kind, text=mark.text)


_ALONE = frozenset({"caution", "done", "begin", "finish", "abandon"})
"""Words behind which nothing stands: what did would be passed over."""

_EXAMPLES = {
    "note": "note rain has begun",
    "checked": "checked airflow_low",
    "seen": "seen liquid_pressure",
}
"""Words whose mark holds the rest of the line, with an example."""


def _about(word: str, rest: str, snapshot: Snapshot) -> Mark:
    """Return a note, a condition that was checked, or a probe that was seen to."""
    if word == "note":
        return Mark(t=0.0, kind=MarkKind.NOTE, text=rest)
    if word == "checked":
        asked = [snapshot.waits_for, *snapshot.other_marks]
        offered = [m.text for m in asked if m is not None and m.kind is MarkKind.CONFIRMED]
        known = [*dict.fromkeys([*(c.limit.key.value for c in snapshot.conditions), *offered])]
        if rest not in known and rest not in tuple(LimitKey):
            raise ConfigError(f"expected one of {', '.join(known)}; came {rest!r}")
        return Mark(t=0.0, kind=MarkKind.CONFIRMED, text=rest)
    channels = [each.channel for each in snapshot.facts.channels]
    for channel in channels:
        if rest in {channel.name, channel.role.value}:
            return Mark(t=0.0, kind=MarkKind.PROBE_SEEN_TO, text=channel.name)
    names = ", ".join(channel.name for channel in channels) or "none, for nothing is measured"
    raise ConfigError(f"expected the name of a probe ({names}); came {rest!r}")


def _stage(text: str) -> str:
    stage = known_stage(text)
    if stage is None:
        raise ConfigError(f"expected the name of a stage, such as weigh-in; came {text!r}")
    return stage.value


class ToldSession:
    """A session of plain lines with somebody who tells it something.

    Parameters
    ----------
    session : Session
    write : callable
        Takes a line to print.
    system : UnitSystem
    """

    def __init__(self, session: Session, write: Callable[[str], None], system: UnitSystem) -> None:
        self._session, self._write = session, write
        self._lines = ToldLines(system, self._now, session.job.charge.full_kg)
        self._latest: Snapshot | None = None
        self._early: list[str] = []
        self._shown: Hazard | None = None

    def _now(self) -> Now:
        held = self._session.can_pause  # time that can be held is not that of the clock
        return Now(self._session.now, None if held else dt.datetime.now().astimezone())

    def see(self, snapshot: Snapshot) -> None:
        """Take the newest picture; a caution that waits is printed once."""
        self._latest = snapshot
        early, self._early = self._early, []
        for line in early:
            self.take(line)
        hazard = self._lines.caution(snapshot)
        if hazard is not None and hazard is not self._shown:
            text = f"{hazard.label}: {caution_text(hazard)}; type 'caution' once you have read it"
            self._write(f"{display.clock(snapshot.t):>8}  ! caution, {text}")
        self._shown = hazard

    def take(self, line: str) -> None:
        """Take one line; what it cannot be is told, and changes nothing.

        What comes before the first picture waits for it.
        """
        if self._latest is None:
            self._early.append(line)
            return
        try:
            told = self._lines.read(line, self._latest)
            if isinstance(told, Ending):
                self._session.end(told.outcome, "told by the technician")
            elif told is not None:
                self._session.take_mark(told)
        except ChargeAssistError as error:
            complain(f"chargeassist: {plain(line.strip(), 60)!r}: {error}")
