"""The vacuum gauge, as a probe or read by hand, and when the next reading by hand is due."""

import math
from dataclasses import replace

from chargeassist.guide.stages.stage import Instruction, NextMark, say, typed, withdraw
from chargeassist.model.channels import Accuracy, Channel
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Action, Mark, MarkKind
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.physics.pull_down import APART_BY_HAND_S, PullDown
from chargeassist.physics.rise_test import APART_BY_HAND_S as APART_TEST_S
from chargeassist.physics.rise_test import LEAST_BY_HAND, Rise, RiseTest
from chargeassist.physics.vacuum_gauge import GaugeLimits

OF_HAND = (LimitKey.VACUUM_READINGS, LimitKey.EYE_VACUUM, LimitKey.EYE_VACUUM_STEP)
"""The limits that count where the vacuum is read by hand."""

TOO_SOON = "the last one typed came too soon after the one before and does not count"

_TYPICAL_PA = 60.0
"""Pressure at which a declared accuracy is turned into a fraction of the reading [Pa]."""


def typed_vacuum() -> NextMark:
    """Return the mark that asks for the vacuum."""
    return typed(Entry.VACUUM)


def hand_gauge(
    accuracy: Accuracy | None,
    scatter: float = USUAL[LimitKey.EYE_VACUUM].value_si,
    step_pa: float = USUAL[LimitKey.EYE_VACUUM_STEP].value_si,
) -> GaugeLimits:
    """Return the limits of a gauge read by eye.

    Parameters
    ----------
    accuracy : Accuracy or None
        As declared.
    scatter : float
        What the eye adds, relative [1].
    step_pa : float
        By how much the digits run while they are read [Pa].
    """
    usual = GaugeLimits(resolution_pa=step_pa, scatter_relative=scatter)
    return usual if accuracy is None else replace(usual, accuracy_relative=_relative(accuracy))


def gauge_by_eye(job: Job) -> GaugeLimits:
    """Return the limits of the job's vacuum gauge where it is read by eye."""
    return hand_gauge(
        job.stages.dryness.gauge_accuracy,
        job.limit_si(LimitKey.EYE_VACUUM),
        job.limit_si(LimitKey.EYE_VACUUM_STEP),
    )


def probe_gauge(channel: Channel | None) -> GaugeLimits:
    """Return the limits of the vacuum gauge as declared, else the usual ones."""
    usual = GaugeLimits()
    if channel is None:
        return usual
    accuracy = channel.accuracy
    return GaugeLimits(
        resolution_pa=channel.resolution_si or usual.resolution_pa,
        accuracy_relative=usual.accuracy_relative if accuracy is None else _relative(accuracy),
    )


def _relative(accuracy: Accuracy) -> float:
    """Return a declared accuracy as a fraction of the reading, at most one half [1]."""
    return min(accuracy.half_width(_TYPICAL_PA) / _TYPICAL_PA, 0.5)


class HandVacuum:
    """Keeps typed vacuum readings until the next tick; one per stage."""

    def __init__(self) -> None:
        self._told: list[tuple[float, float]] = []
        self.newest: float | None = None
        """Newest reading since pump, valve or nitrogen was touched [Pa absolute]."""
        self.newest_t: float | None = None
        self.has_readings = False
        self._since_t = 0.0
        self.kept: list[tuple[float, float]] = []
        """Every reading that was not withdrawn: time [s], value [Pa absolute]."""

    def take(self, mark: Mark) -> None:
        """Take one typed reading, or that the last was wrong."""
        if mark.kind is MarkKind.WITHDRAWN and mark.text == Entry.VACUUM and self.kept:
            self.kept.pop()
        if mark.kind is not MarkKind.ENTERED or mark.value_si is None:
            return
        if believed(mark.text, mark.value_si) is Entry.VACUUM:
            self.has_readings = True
            self.kept.append((mark.seen_t, mark.value_si))
            if mark.seen_t < self._since_t:
                return  # typed late: read before pump or valve was touched
            self._told.append((mark.seen_t, mark.value_si))
            self.newest, self.newest_t = mark.value_si, mark.seen_t

    def restart(self, t: float) -> None:
        """Forget what was read before `t` [s]; it no longer holds."""
        self.newest = self.newest_t = None
        self._told = [each for each in self._told if each[0] >= t]
        self._since_t = t

    @property
    def withdrawable(self) -> tuple[NextMark, ...]:
        """The mark that withdraws the last reading, if there is one."""
        return (withdraw(Entry.VACUUM),) if self.kept else ()

    @property
    def read_standing(self) -> tuple[tuple[float, float], ...]:
        """What was read since pump, valve or nitrogen was touched: times [s], values [Pa]."""
        return tuple(each for each in self.kept if each[0] >= self._since_t)

    def again(self) -> None:
        """Let every reading that stands be judged once more."""
        self._told = list(self.read_standing)
        self.newest_t, self.newest = self._told[-1] if self._told else (None, None)

    def tick(self) -> tuple[tuple[float, float], ...]:
        """Return times [s] and values [Pa absolute] typed since the last tick."""
        told, self._told = tuple(self._told), []
        return told


def rising_by_hand(
    t: float, test: RiseTest, rise: Rise | None, newest_t: float | None, certain: float
) -> Instruction:
    """Return what a rise test by hand asks for: a reading now, or to wait for the next one.

    Readings are asked for at even intervals from the end of equalisation to the end of the hold, as
    many as are needed, then at the same pace until the causes can be told apart. `certain` is how
    many a certain pass takes.
    """
    settings = test.settings
    begin_t = test.isolated_t + settings.skip_s
    pace_s = (settings.hold_s - settings.skip_s) / (LEAST_BY_HAND - 1)
    if newest_t is None or newest_t < begin_t:
        due_t = begin_t
    else:
        # A reading a little early counts as that one.
        done = math.floor((newest_t - begin_t) / pace_s + 0.25)
        due_t = begin_t + (done + 1) * pace_s
    figures = {"readings": float(test.readings), "seconds_s": max(due_t - t, 0.0)}
    figures |= {"least": float(LEAST_BY_HAND), "certain": certain}
    soon = ""
    if test.too_soon_s is not None:
        figures |= {"too_soon_s": test.too_soon_s, "apart_s": APART_TEST_S}
        soon = TOO_SOON
    if rise is not None:
        figures |= figures_of(rise)
    if t >= due_t:
        return say(t, Action.DO, "read_vacuum_rise", figures, subject=soon), typed_vacuum()
    reason = "" if rise is None else rise.reason
    reason = "; ".join(each for each in (soon, reason) if each)
    return say(t, Action.WAIT, "rising_by_hand", figures, subject=reason), typed_vacuum()


def pull_figures(pull: PullDown, *, by_hand: bool) -> dict[str, float]:
    """Return the figures of a pull-down, units in their names; unknown ones are absent."""
    figures = {
        "seconds_s": pull.seconds_to_target,
        "fall_per_min": pull.fall_per_min,
        "water_pa": pull.water_pa_abs,
        "apart_s": APART_BY_HAND_S if by_hand else None,
    }
    return {key: value for key, value in figures.items() if value is not None}


def figures_of(rise: Rise) -> dict[str, float]:
    """Return the figures of a rise test, units in their names; unknown ones are absent."""
    figures = {"elapsed_s": rise.elapsed_s, "remaining_s": rise.remaining_s}
    for key, value in (
        ("dry", rise.dry_probability),
        ("moist", rise.moist_probability),
        ("leak", rise.leak_probability),
        ("level_pa", rise.level_pa_abs),
        ("level_expanded_pa", rise.level_expanded_pa),
        ("leak_pa_per_min", 60.0 * rise.leak_pa_per_s),
        ("leak_expanded_pa_per_min", 60.0 * rise.leak_expanded_pa_per_s),
        ("needed_s", rise.needed_s),
    ):
        # A record holds neither nan nor infinity.
        if value is not None and abs(value) < 1e12:
            figures[key] = value
    return figures
