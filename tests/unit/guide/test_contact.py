"""Whether the liquid line's clamp has contact, by what its pipe does with the condenser."""

import math
from dataclasses import replace

import numpy as np
import pytest

from chargeassist.guide.contact import BIN_S, FOLLOWS, ContactWatch, follows
from chargeassist.guide.cure import refrigerant_is_cure
from chargeassist.guide.diagnosis import diagnose, rank
from chargeassist.guide.evidence import FeatureReading, Said
from chargeassist.guide.fault_found import NOT_A_FAULT
from chargeassist.guide.fault_terms import Cause, Feature
from chargeassist.guide.first_check import to_check
from chargeassist.model.channels import Role
from tests.unit.guide.charging_facts import settled

GUST_S = 40.0


def _condenser(seconds: int, seed: int, size_k: float = 0.2) -> np.ndarray:
    """Return a condensing temperature that wanders with gusts of 40 s [K], each second."""
    rng = np.random.default_rng(seed)
    keep = math.exp(-1.0 / GUST_S)
    kicks = rng.normal(0.0, size_k * math.sqrt(1.0 - keep * keep), seconds)
    wander = np.zeros(seconds)
    for k in range(1, seconds):
        wander[k] = keep * wander[k - 1] + kicks[k]
    return 310.0 + wander


def _felt(pipe: np.ndarray, lag_s: float, share: float = 1.0) -> np.ndarray:
    """Return what a clamp with that lag shows that feels this share of its pipe [K]."""
    felt = np.array(pipe)
    for k in range(1, len(pipe)):
        felt[k] = felt[k - 1] + (share * pipe[k] + (1 - share) * 300.0 - felt[k - 1]) / lag_s
    return felt


def _bins(values: np.ndarray, noise: float, seed: int) -> np.ndarray:
    noisy = values + np.random.default_rng(seed).normal(0.0, noise, len(values))
    means: np.ndarray = noisy.reshape(-1, int(BIN_S)).mean(axis=1)
    return means


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("noise_k", [0.02, 0.08])
def test_a_clamp_with_contact_follows_and_a_loose_one_does_not(seed: int, noise_k: float) -> None:
    """Noise of the pressure probe does not make a sound clamp look loose."""
    condenser = _condenser(480, seed)
    shown = _bins(condenser, noise_k, 100 + seed)
    sound, sound_u = follows([(shown, _bins(_felt(condenser - 5.0, 8.0), 0.03, 200 + seed))]) or (
        math.nan,
        math.nan,
    )
    assert sound + 2.0 * sound_u > 0.7
    loose, loose_u = follows(
        [(shown, _bins(_felt(condenser - 5.0, 70.0, 0.35)[:480], 0.03, 300 + seed))]
    ) or (math.nan, math.nan)
    assert loose - 2.0 * loose_u < 0.3
    assert loose < 0.5 * sound


def test_still_air_says_nothing() -> None:
    shown = _bins(np.full(480, 310.0), 0.05, 1)
    found = follows([(shown, _bins(np.full(480, 305.0), 0.03, 2))])
    assert found is None or found[1] > 0.3


def test_too_short_a_time_says_nothing() -> None:
    condenser = _condenser(150, 3)
    assert follows([(_bins(condenser, 0.02, 1), _bins(condenser, 0.02, 2))]) is None
    assert follows([]) is None


def _watch(
    line_of: np.ndarray,
    condenser: np.ndarray,
    every: int = 1,
    missing: int | None = None,
    typed: frozenset[Role] = frozenset(),
) -> ContactWatch:
    """Return a watch that heard both.

    The pressure is new every so many seconds; the line is not read in the second `missing`.
    """
    watch = ContactWatch()
    base = settled(6.0)
    values = dict(base.values or {})
    for second in range(len(condenser)):
        t = 1000.0 + second
        values[Role.LIQUID_TEMPERATURE] = float(line_of[second])
        if second == missing:
            del values[Role.LIQUID_TEMPERATURE]
        watch.tick(
            replace(
                base,
                t=t,
                running_since_t=0.0,
                liquid_saturation_k=float(condenser[every * (second // every)]),
                values=dict(values),
                typed=typed,
                settling=replace(base.settling, since_s=500.0),
            )
        )
    return watch


def test_the_watch_reads_what_it_heard() -> None:
    condenser = _condenser(480, 5)
    noisy = condenser + np.random.default_rng(5).normal(0.0, 0.03, 480)
    sound = _watch(_felt(condenser - 5.0, 8.0), noisy).reading()
    loose = _watch(_felt(condenser - 5.0, 70.0, 0.3), noisy).reading()
    assert sound is not None
    assert loose is not None
    assert sound.sign()[0] < 0.3
    assert loose.sign()[0] > 0.8


def test_a_pressure_that_comes_seldom_says_nothing() -> None:
    """One noise in several bins would make every clamp look loose."""
    condenser = _condenser(480, 6)
    assert _watch(condenser - 5.0, condenser, every=10).reading() is None


@pytest.mark.parametrize("place", [Role.LIQUID_TEMPERATURE, Role.LIQUID_PRESSURE])
def test_a_line_that_was_typed_says_nothing_of_a_clamp(place: Role) -> None:
    """It stands still between two readings, and no clamp is to blame."""
    condenser = _condenser(480, 9)
    typed = np.full(480, 305.0)
    assert _watch(typed, condenser).reading() is not None
    assert _watch(typed, condenser, typed=frozenset({place})).reading() is None


def test_a_probe_seen_to_begins_anew() -> None:
    condenser = _condenser(480, 7)
    watch = _watch(condenser - 5.0, condenser)
    watch.forget()
    assert watch.reading() is None


def test_a_reading_missing_for_a_moment_spoils_no_mean() -> None:
    """What was added up before the gap does not count in the mean after it."""
    condenser = _condenser(480, 8)
    line = _felt(condenser - 5.0, 70.0, 0.3)
    whole, holed = _watch(line, condenser).reading(), _watch(line, condenser, missing=52).reading()
    assert whole is not None
    assert holed is not None
    assert holed.value_si == pytest.approx(whole.value_si, abs=0.15)


def _contact(value: float) -> FeatureReading:
    least, most = FOLLOWS
    return FeatureReading(
        feature=Feature.CONTACT,
        value_si=value,
        expected_si=0.5 * (least + most),
        tolerance_si=0.5 * (most - least),
        expanded_si=0.15,
    )


def _starved(feature: Feature, value: float) -> FeatureReading:
    return FeatureReading(
        feature=feature, value_si=value, expected_si=0.0, tolerance_si=1.0, expanded_si=0.3
    )


@pytest.mark.parametrize("orifice", [False, True])
def test_a_line_that_lags_speaks_for_its_clamp_and_one_that_follows_against_it(
    *, orifice: bool
) -> None:
    readings = [_starved(Feature.SUBCOOLING, 1.8), _starved(Feature.SUPERHEAT, 0.0)]
    without = diagnose(readings, orifice=orifice).probability(Cause.PROBE_LOOSE)
    lags = diagnose([*readings, _contact(0.2)], orifice=orifice).probability(Cause.PROBE_LOOSE)
    goes = diagnose([*readings, _contact(1.0)], orifice=orifice).probability(Cause.PROBE_LOOSE)
    assert goes < without < lags
    assert lags > 4.0 * goes


def test_a_short_charge_behind_a_loose_clamp_is_no_restriction_for_certain() -> None:
    """Superheat high and subcooling there: a restriction, unless the line's clamp is why."""
    readings = [
        _starved(Feature.SUBCOOLING, 0.0),
        _starved(Feature.SUPERHEAT, 1.6),
        _starved(Feature.EVAPORATING, -1.6),
        _starved(Feature.CHARGE, -2.5),
    ]
    found = diagnose([*readings, _contact(0.2)])
    assert found.causes[0].cause is Cause.PROBE_LOOSE
    assert found.causes[0].pattern == "liquid line clamp, and refrigerant missing"
    assert diagnose([*readings, _contact(1.0)]).causes[0].cause is Cause.RESTRICTION


def test_a_clamp_that_was_pressed_on_is_hardly_suspected_any_more() -> None:
    said = Said(
        [
            _starved(Feature.SUBCOOLING, 1.8),
            _starved(Feature.APPROACH, -1.8),
            _starved(Feature.CONDENSING, 0.0),
            _contact(0.2),
        ]
    )
    before, after = rank(said), rank(said, seen_to=frozenset({Role.LIQUID_TEMPERATURE}))
    assert before.probability(Cause.PROBE_LOOSE) > 0.3
    assert after.probability(Cause.PROBE_LOOSE) < 0.5 * before.probability(Cause.PROBE_LOOSE)
    # The other pressure probes and clamps are as they were.
    other = rank(said, seen_to=frozenset({Role.SUCTION_PRESSURE}))
    assert other.probability(Cause.PROBE_LOOSE) >= before.probability(Cause.PROBE_LOOSE)


def test_of_causes_that_look_alike_the_clamp_is_checked_first() -> None:
    """It takes a minute; what is much less likely is not named for that."""
    readings = [
        _starved(Feature.SUBCOOLING, 0.0),
        _starved(Feature.SUPERHEAT, 1.1),
        _starved(Feature.EVAPORATING, -1.1),
        _starved(Feature.CHARGE, -2.5),
    ]
    ranked = [item for item in diagnose(readings).causes if item.cause not in NOT_A_FAULT]
    assert ranked[0].cause is Cause.RESTRICTION
    assert [item.cause for item in to_check(ranked)][:2] == [Cause.PROBE_LOOSE, Cause.RESTRICTION]
    cure = refrigerant_is_cure(diagnose(readings))
    assert cure.words == f"{Cause.PROBE_LOOSE.value} or {Cause.RESTRICTION.value}"
    for reading, far in ((Feature.SUPERHEAT, 2.5), (Feature.EVAPORATING, -2.5)):
        readings = [_starved(reading, far) if r.feature is reading else r for r in readings]
    sure = diagnose([*readings, _contact(1.0)]).causes
    assert [item.cause for item in to_check(sure)] == [Cause.RESTRICTION]
