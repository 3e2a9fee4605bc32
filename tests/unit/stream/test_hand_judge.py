"""The judged line read by hand: which reading a correction takes the place of."""

from chargeassist.model.channels import Role
from chargeassist.model.values import NoValue
from chargeassist.stream.derived import DerivedValue, Pair
from chargeassist.stream.hand_judge import HandJudge
from chargeassist.stream.typed_readings import HandPairs, typed_channel
from tests.unit.stream.rig import LIQUID_PA, R32, STATION_PA, make_job

P, T = Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE
OFF_THE_TABLE_PA = 14e6


class Judge:
    """A judge of invented readings, all typed."""

    def __init__(self) -> None:
        job = make_job()
        self.judge = HandJudge(job)
        self.derived = DerivedValue(R32, Pair(typed_channel(job, P), typed_channel(job, T)))
        bubble_k = R32.bubble_temp_k(LIQUID_PA + STATION_PA)
        assert not isinstance(bubble_k, NoValue)
        self.bubble_k = bubble_k

    def typed(self, t: float, role: Role, value: float) -> None:
        self.judge.tick(t, ((t, role, value),), {}, self.derived, STATION_PA)

    def read(self, t: float, subcooling_k: float, pressure_pa: float = LIQUID_PA) -> None:
        self.typed(t, P, pressure_pa)
        self.typed(t + 5.0, T, self.bubble_k - subcooling_k)

    def readings(self, t: float) -> int:
        return self.judge.facts(t, {}).readings


def test_a_correction_takes_the_place_of_the_reading_it_corrects() -> None:
    hand = Judge()
    hand.read(0.0, 5.0)
    hand.read(60.0, 5.0, LIQUID_PA + 1e5)
    hand.typed(70.0, P, LIQUID_PA)
    assert hand.readings(71.0) == 2


def test_the_correction_of_a_slip_that_gave_no_value_replaces_no_other_reading() -> None:
    hand = Judge()
    hand.read(0.0, 5.0)
    hand.read(60.0, 5.0, OFF_THE_TABLE_PA)
    assert hand.readings(66.0) == 1
    hand.typed(70.0, P, LIQUID_PA)
    assert hand.readings(71.0) == 2
    hand.typed(73.0, P, LIQUID_PA + 1e3)  # corrected once more
    assert hand.readings(74.0) == 2


def test_a_typed_reading_finds_its_probe_however_short_the_periods_are() -> None:
    """Read three minutes before it was typed, beside a probe that is followed every 0.2 s."""
    pairs = HandPairs(P, T, lasts_s=240.0, together_s=30.0)
    for tick in range(1000):
        pairs.follow(0.2 * tick, 305.0)
    assert pairs.take(20.0, P, LIQUID_PA) == ((20.0, LIQUID_PA, 305.0), False)
