"""Each guard at its limit, on both sides and coming back; every number is invented."""

from dataclasses import replace

import pytest

from chargeassist.guide.guards import (
    DRIVEN_UP,
    STEP_OPEN,
    FloodingWatch,
    charge_limit,
    empty,
    floodback,
    guard,
    is_flooding,
)
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Job
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts, Measured, OpenStep
from tests.unit.guide.charging_facts import JOB, channels, moving, settled

LIMITS = [
    # channel, cause, limit [SI], figure, on which side it is passed, one hundredth or one kelvin
    ("liquid_pressure", "liquid_pressure_high", 3.0e6, "value_pa", 1.0, 3.0e4),
    ("suction_pressure", "suction_pressure_low", 6.5e5, "value_pa", -1.0, 6.5e3),
    ("discharge_temperature", "discharge_temp_high", 383.15, "value_k", 1.0, 1.0),
    ("compressor_current", "current_high", 9.0, "value_a", 1.0, 0.09),
]


@pytest.mark.parametrize(("name", "cause", "limit", "figure", "out", "back"), LIMITS)
def test_a_limit_is_passed_beyond_it_and_kept_well_inside(
    name: str, cause: str, limit: float, figure: str, out: float, back: float
) -> None:
    def found(value: float, previous: Advice | None = None) -> Advice | None:
        return guard(JOB, settled(3.0, channels=channels(**{name: value})), previous)

    for kept in (limit - out * back, limit):
        assert found(kept) is None
    said = found(limit + out * 2e-3 * back)
    assert said is not None
    assert (said.action, said.cause) == (Action.FIX_FIRST, cause)
    assert said.subject == JOB.guards.source
    assert said.figures == {
        figure: limit + out * 2e-3 * back,
        figure.replace("value", "limit"): limit,
    }
    # It ends only where noise would not bring it back: 1 % or 1 K inside.
    assert found(limit - out * 0.99 * back, said) is not None
    assert found(limit - out * 1.01 * back, said) is None
    # Another warning before it makes it no tighter.
    assert found(limit, replace(said, cause="another")) is None


def test_a_unit_without_a_limit_or_a_probe_is_not_guarded() -> None:
    high = settled(3.0, channels=channels(liquid_pressure=9e6))
    assert guard(JOB, high, None) is not None
    without = replace(JOB, guards=replace(JOB.guards, liquid_pressure_high_pa_gauge=None))
    assert guard(without, high, None) is None
    assert guard(JOB, settled(3.0, channels=()), None) is None


@pytest.mark.parametrize(("name", "cause", "limit", "figure", "out", "back"), LIMITS)
def test_an_open_valve_is_named_where_refrigerant_drives_the_value(
    name: str, cause: str, limit: float, figure: str, out: float, back: float
) -> None:
    seen = settled(
        3.0, channels=channels(**{name: limit + out * back}), step_open=OpenStep(begun_t=990.0)
    )
    said = guard(JOB, seen, None)
    assert said is not None
    assert said.figures.get(STEP_OPEN) == (1.0 if cause in DRIVEN_UP else None)


@pytest.mark.parametrize(
    ("liquid_pa", "suction_pa", "is_empty"),
    [
        (19.9e3, 19.9e3, True),
        (-98e3, -98e3, True),
        (19.9e3, None, True),
        (20.0e3, 0.0, False),
        (0.0, 20.0e3, False),  # one hose that is not on
        (None, 0.0, False),
    ],
)
def test_a_circuit_is_empty_where_both_sides_stand_under_twenty_kilopascals(
    liquid_pa: float | None, suction_pa: float | None, *, is_empty: bool
) -> None:
    seen = settled(3.0, channels=channels(liquid_pressure=liquid_pa, suction_pressure=suction_pa))
    said = empty(seen)
    assert (said is not None) is is_empty
    if said is not None:
        assert (said.action, said.cause) == (Action.FIX_FIRST, "circuit_empty")
        assert said.figures == {"value_pa": liquid_pa}
    # Filling it is what a step on an empty circuit does.
    assert empty(replace(seen, step_open=OpenStep(begun_t=990.0))) is None


def limited(limit_kg: float | None) -> Job:
    return replace(JOB, charge=replace(JOB.charge, limit_kg=limit_kg, limit_source="A2L: plate"))


def test_what_an_open_step_has_added_counts_to_the_limit_of_the_charge() -> None:
    job = limited(1.84)
    assert charge_limit(job, settled(3.0, total_kg=1.84)) is None
    over = charge_limit(job, settled(3.0, total_kg=1.8401))
    assert over is not None
    assert (over.action, over.cause, over.subject) == (
        Action.FIX_FIRST,
        "charge_limit",
        "A2L: plate",
    )
    assert over.figures == {"total_kg": 1.8401, "limit_kg": 1.84}
    for so_far_kg, passed in ((None, False), (0.039, False), (0.041, True)):
        step = OpenStep(begun_t=990.0, so_far_kg=so_far_kg)
        said = charge_limit(job, settled(3.0, total_kg=1.8, step_open=step))
        assert (said is not None) is passed
    assert charge_limit(limited(None), settled(3.0, total_kg=99.0)) is None


def flooding(superheat_k: float, expanded_k: float | None = 0.5, **more: object) -> Facts:
    reading = Measured(value_k=superheat_k, expanded_k=expanded_k)
    return replace(moving(superheat=reading), **more)  # type: ignore[arg-type]


def test_superheat_is_too_low_only_with_its_whole_uncertainty() -> None:
    low_k = JOB.target.superheat_low_k
    assert is_flooding(JOB, flooding(low_k - 0.51))
    assert not is_flooding(JOB, flooding(low_k - 0.49))
    assert is_flooding(JOB, flooding(low_k - 0.01, None))
    assert not is_flooding(JOB, flooding(low_k, None))
    assert not is_flooding(JOB, flooding(low_k - 2.0, step_open=OpenStep(begun_t=990.0)))
    assert not is_flooding(JOB, moving(superheat=NoValue("no probe")))
    # A compressor at rest draws none.
    assert not is_flooding(JOB, flooding(low_k - 2.0, channels=channels(compressor_current=0.0)))


def test_the_time_of_low_superheat_counts_without_a_break() -> None:
    watch = FloodingWatch(JOB)
    low = flooding(-3.0)
    assert watch.lasts_s(replace(low, t=100.0)) == 0.0
    assert watch.lasts_s(replace(low, t=130.0)) == 30.0
    assert watch.lasts_s(replace(flooding(9.0), t=131.0)) == 0.0
    assert watch.lasts_s(replace(low, t=140.0)) == 0.0
    assert watch.lasts_s(replace(low, t=150.0)) == 10.0
    watch.forget()
    assert watch.lasts_s(replace(low, t=160.0)) == 0.0


def test_floodback_that_was_said_does_not_flicker_on_its_limit() -> None:
    """It begins anew after two minutes only, so that noise would hide it for as long each time."""
    watch = FloodingWatch(JOB)
    edge_k = JOB.target.superheat_low_k - 0.5
    for second in range(121):
        watch.lasts_s(replace(flooding(edge_k - 0.1), t=100.0 + second))
    for second in range(30):
        noise_k = 0.2 if second % 2 else -0.2
        lasted_s = watch.lasts_s(replace(flooding(edge_k + noise_k), t=221.0 + second))
        assert lasted_s == 121.0 + second
    assert watch.lasts_s(replace(flooding(edge_k + 0.6), t=260.0)) == 0.0
    assert watch.lasts_s(replace(flooding(edge_k + 0.2), t=261.0)) == 0.0


def test_liquid_at_the_compressor_once_told_of_ends_half_a_kelvin_above_its_limit() -> None:
    """Told of after two minutes without a limit of the job."""
    low_k = JOB.target.superheat_low_k
    for lasted_s, above_k, ended in (
        (119.0, 0.01, True),  # not told of yet
        (120.0, 0.01, False),
        (120.0, 0.49, False),
        (120.0, 0.51, True),
    ):
        watch = FloodingWatch(JOB)
        assert watch.lasts_s(replace(flooding(low_k - 1.0, None), t=100.0)) == 0.0
        near = replace(flooding(low_k + above_k, None), t=100.0 + lasted_s)
        assert watch.lasts_s(near) == (0.0 if ended else lasted_s)


def test_floodback_is_said_once_it_has_lasted_and_before_the_reading_settles() -> None:
    """Two minutes without a limit of the job."""
    low = flooding(-3.0)
    assert floodback(JOB, low, 119.9) is None
    said = floodback(JOB, low, 120.0)
    assert said is not None
    assert (said.action, said.cause) == (Action.FIX_FIRST, "low_superheat")
    assert said.figures == {"superheat_k": -3.0, "limit_k": JOB.target.superheat_low_k}
    assert (
        floodback(JOB, replace(low, settled=Measured(value_k=5.0, expanded_k=0.4)), 500.0) is None
    )
    assert floodback(JOB, moving(superheat=NoValue("no probe")), 500.0) is None
