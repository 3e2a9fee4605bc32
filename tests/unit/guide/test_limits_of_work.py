"""Rules of work that a profile can change: each test fails where the rule is a constant.

The numbers are invented house rules; what the program takes without one is in
`chargeassist.model.usual_limits`, each with its source.
"""

from dataclasses import replace
from statistics import NormalDist

import CoolProp.CoolProp as CoolProp
import pytest

from chargeassist.guide import by_hand
from chargeassist.guide.documented import condensing, performance_of
from chargeassist.guide.stages.hand_vacuum import gauge_by_eye, hand_gauge
from chargeassist.guide.stages.line_charge import line_charge
from chargeassist.guide.standing import Standing, StandingWatch
from chargeassist.guide.step_size import Gain, aim_of, largest_kg
from chargeassist.model.channels import Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.installation import LineSet
from chargeassist.model.job import Target
from chargeassist.model.limits import LimitKey, Method
from chargeassist.model.performance import Performance
from chargeassist.model.values import NoValue
from chargeassist.physics.standing_check import StandingVerdict
from chargeassist.session.job.jobfile import parse_job
from chargeassist.stream.facts import Facts
from tests.unit.guide.charging_facts import JOB, settled
from tests.unit.guide.stages.conftest import Work, make_job
from tests.unit.guide.test_by_hand import BUBBLE_K, LIQUID_PA
from tests.unit.guide.test_by_hand import JOB as BY_HAND
from tests.unit.limited import limited
from tests.unit.stream.rig import Rig, channel
from tests.unit.stream.rig import make_job as rig_job

C = 273.15


def hand(**limits: float) -> Work:
    """Return a session whose liquid line is read by hand."""
    work = Work(limited(BY_HAND, {LimitKey(key): value for key, value in limits.items()}))
    work.run(1)
    return work


def read(work: Work, subcooling_k: float = 3.0, apart_s: int = 10) -> Facts:
    work.enter(Entry.LIQUID_PRESSURE, LIQUID_PA)
    work.run(apart_s)
    work.enter(Entry.LIQUID_PIPE, BUBBLE_K - subcooling_k)
    work.run(2)
    return work.snapshot.facts


def settles_after(work: Work, pace_s: int = 60, most: int = 12) -> int:
    """Return how many readings a steady line takes to settle."""
    for count in range(1, most + 1):
        facts = read(work)
        if facts.settled is not None:
            return count
        work.run(pace_s - 12)
    return 0


@pytest.mark.parametrize(
    ("limits", "readings"),
    [({}, 4), ({"hand_readings": 6.0}, 6), ({"hand_span": 420.0}, 8), ({"hand_span": 60.0}, 4)],
)
def test_how_many_readings_by_hand_settle_a_line(limits: dict[str, float], readings: int) -> None:
    assert settles_after(hand(**limits)) == readings


@pytest.mark.parametrize(("pace_s", "settled_pace_s"), [(60.0, 120.0), (30.0, 200.0)])
def test_the_pace_readings_are_asked_for_at(pace_s: float, settled_pace_s: float) -> None:
    work = hand(hand_pace=pace_s, hand_pace_settled=settled_pace_s)
    facts = read(work)
    assert facts.by_hand is not None
    assert facts.by_hand.newest_t is not None
    assert facts.by_hand.due_t - facts.by_hand.newest_t == pace_s
    work.run(48)
    assert settles_after(work) == 3
    facts = work.snapshot.facts
    assert facts.by_hand is not None
    assert facts.by_hand.newest_t is not None
    assert facts.by_hand.due_t - facts.by_hand.newest_t == settled_pace_s


def test_how_long_a_reading_by_hand_counts() -> None:
    for lasts_s in (300.0, 120.0):
        work = hand(hand_lasts=lasts_s)
        read(work)
        work.enter(Entry.CURRENT, 9.0)
        work.run(int(lasts_s) - 20)
        assert work.snapshot.facts.live(Role.LIQUID_PRESSURE) == LIQUID_PA
        assert by_hand.amps(work.job, work.snapshot.facts) == 9.0
        work.run(30)
        assert work.snapshot.facts.live(Role.LIQUID_PRESSURE) is None
        assert by_hand.amps(work.job, work.snapshot.facts) is None


@pytest.mark.parametrize(("together_s", "readings"), [(120.0, 1), (60.0, 0)])
def test_how_far_apart_pressure_and_pipe_are_one_reading(together_s: float, readings: int) -> None:
    facts = read(hand(hand_together=together_s), apart_s=90)
    assert facts.by_hand is not None
    assert facts.by_hand.readings == readings


@pytest.mark.parametrize(
    ("limits", "settles"),
    [({}, True), ({"eye_temperature": 1.0}, False), ({"eye_pressure": 60e3}, False)],
)
def test_an_eye_that_scatters_more_proves_less(limits: dict[str, float], settles: bool) -> None:
    assert bool(settles_after(hand(**limits), most=4)) is settles


def test_how_long_typed_outdoor_air_counts() -> None:
    for lasts_s in (1800.0, 600.0):
        job = limited(rig_job(), {LimitKey.TYPED_AIR_LASTS: lasts_s})
        rig = Rig(job)
        rig.processor.take(
            Mark(t=0.0, kind=MarkKind.ENTERED, text=Entry.OUTDOOR_AIR.value, value_si=300.0)
        )
        assert rig.run(2)[-1].live(Role.OUTDOOR_AIR_TEMPERATURE) == 300.0
        rig.t = lasts_s
        assert rig.run(2)[-1].live(Role.OUTDOOR_AIR_TEMPERATURE) is None


@pytest.mark.parametrize(("half_k", "low_k"), [(5.0 / 9.0, C + 18.3), (2.0, C + 10.0)])
def test_a_target_from_typed_air_is_as_uncertain_as_the_profile_says(
    half_k: float, low_k: float
) -> None:
    target = Target(method=Method.SUPERHEAT, tolerance_k=2.8, source="table")
    limits = {LimitKey.TYPED_AIR_ACCURACY: half_k, LimitKey.SUPERHEAT_OUTDOOR_LOW: low_k}
    rig = Rig(limited(rig_job(target=target), limits))
    for entry, value_k in ((Entry.OUTDOOR_AIR, C + 15.0), (Entry.RETURN_WET_BULB, C + 15.0)):
        mark = Mark(t=0.0, kind=MarkKind.ENTERED, text=entry.value, value_si=value_k)
        rig.processor.take(mark)
    goal = rig.run(3)[-1].goal(target)
    assert not isinstance(goal, NoValue)
    expanded_k = goal.expanded_k or 0.0
    # Wider than the table alone (1.5 °F as a rectangle, k = 2) by what the air adds.
    assert expanded_k > 1.5 * 5.0 / 9.0 * 2.0 / 3.0**0.5
    assert (expanded_k > 3.0) is (half_k == 2.0)
    assert bool(goal.caution) is (low_k > C + 15.0)


@pytest.mark.parametrize("chance", [0.001, 0.05, 0.3, 0.5])
def test_a_step_is_as_large_as_the_chance_of_passing_the_band_allows(chance: float) -> None:
    """The chance of a normal law is computed by hand; 0.3 K of the settled band sets the noise."""
    job = limited(replace(JOB, charge=replace(JOB.charge, step_cap_kg=5.0)), {
        LimitKey.OVERSHOOT_CHANCE: chance
    })  # fmt: skip
    gain = Gain(12.0, 4.0)
    mass_kg = largest_kg(aim_of(job), gain, 2.0, 0.4)
    spread = ((4.0**2 + (0.15 * 12.0) ** 2) * mass_kg**2 + 0.25**2 + 0.2**2) ** 0.5
    room_k = job.target.middle_k + job.target.tolerance_k - 2.0
    past = 1.0 - NormalDist(12.0 * mass_kg, spread).cdf(room_k)
    assert past == pytest.approx(chance, rel=1e-6)


@pytest.mark.parametrize(("within_k", "counts"), [(6.0, False), (9.0, True)])
def test_how_far_the_weather_may_be_from_the_makers_column(within_k: float, counts: bool) -> None:
    table = Performance(source="page 9", outdoor_k=C + 30.0, air_split_k=10.0)
    job = limited(replace(JOB, performance=table), {LimitKey.COLUMN_OUTDOOR: within_k})
    facts = replace(settled(3.0), values={Role.OUTDOOR_AIR_TEMPERATURE: C + 22.0})
    assert (performance_of(job, facts) is table) is counts


@pytest.mark.parametrize("share", [0.1, 0.3])
def test_other_weather_widens_the_makers_column_by_the_jobs_share(share: float) -> None:
    table = Performance(
        source="page 9", outdoor_k=C + 30.0, liquid_pressure_pa_gauge=2.4e6, liquid_tolerance_pa=0.0
    )
    job = limited(replace(JOB, performance=table), {LimitKey.COLUMN_WEATHER: share})
    facts = replace(settled(3.0), values={Role.OUTDOOR_AIR_TEMPERATURE: C + 26.0})
    expected = condensing(job, facts)
    assert expected is not None
    assert expected.high_si - expected.low_si == pytest.approx(2.0 * share * 4.0)


@pytest.mark.parametrize(("bath_k", "result"), [(0.1, "pass"), (0.5, "pass, not certain")])
def test_how_far_the_ice_water_may_be_off_itself(bath_k: float, result: str) -> None:
    """0.3 K off with 0.56 K allowed (1 °F): certain in a good bath, not in a poor one."""
    work = hand(ice_bath_accuracy=bath_k)
    work.enter(Entry.ICE_BATH, C + 0.3)
    work.run(2)
    (check,) = [each for each in work.checks() if each.check.startswith("ice_bath")]
    assert check.result.value == result
    assert any("ice water" in each for each in check.sources)


def test_a_vacuum_read_by_a_worse_eye_scatters_more() -> None:
    assert hand_gauge(None, 0.05).scatter_relative == 5.0 * hand_gauge(None).scatter_relative


def test_a_vacuum_whose_digits_run_by_more_is_told_less_well() -> None:
    """Ten microns are 1.333 Pa; a rule of thirty runs three times as far."""
    usual = gauge_by_eye(make_job())
    assert usual.resolution_pa == pytest.approx(1.333, abs=1e-3)
    wide = limited(make_job(), {LimitKey.EYE_VACUUM_STEP: 3.0 * usual.resolution_pa})
    assert gauge_by_eye(wide).resolution_pa == pytest.approx(3.0 * usual.resolution_pa)


def test_how_well_the_length_of_the_line_is_known_is_in_the_amount() -> None:
    """U = 2 · 0.5 m / √3 · adder where the length is known to 0.5 m; a fifth of it for 0.1 m."""
    line = LineSet(length_m=9.0, included_m=4.5, adder_kg_per_m=0.02, adder_source="invented")
    job = replace(make_job(), line_set=line)
    far = limited(job, {LimitKey.LINE_LENGTH_ACCURACY: 0.5})
    assert line_charge(far).expanded_kg == pytest.approx(2.0 * 0.5 / 3.0**0.5 * 0.02)
    assert line_charge(job).expanded_kg == pytest.approx(line_charge(far).expanded_kg / 5.0)


def test_most_subcooling_of_a_job_judged_by_superheat_comes_from_its_limits() -> None:
    def target(more: str = "", own: str = "") -> tuple[float, str]:
        job = parse_job(
            'name = "x"\nby_hand = true\nrefrigerant = "R-410A"\n[site]\naltitude = "0 m"\n'
            '[charge]\nplate = "2 kg"\nstep_cap = "0.1 kg"\n[target]\nmethod = "superheat"\n'
            f'superheat = "8 K"\ntolerance = "2 K"\nsource = "invented"\n{own}\n{more}',
            "x.toml",
        )
        stated = job.limit(LimitKey.SUBCOOLING_HIGH)
        assert stated is not None
        assert stated.value_si == job.target.subcooling_high_k
        return job.target.subcooling_high_k, job.target.subcooling_source

    usual_k, source = target()
    assert usual_k == pytest.approx(20 / 1.8)
    assert "default of this program" in source
    house = '[overrides]\nsource = "house rule"\nsubcooling_high = "12 °F"'
    house_k, source = target(house)
    assert house_k == pytest.approx(12 / 1.8)
    assert "house rule" in source
    own_k, source = target(house, 'subcooling_high = "15 °F"')
    assert own_k == pytest.approx(15 / 1.8)
    assert source == "job file"


# The pressure at rest.

IDLE = (
    Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE, Role.LIQUID_TEMPERATURE,
    Role.OUTDOOR_AIR_TEMPERATURE, Role.COMPRESSOR_CURRENT,
)  # fmt: skip


def idle(role: Role) -> Channel:
    return channel(role, unit="A") if role is Role.COMPRESSOR_CURRENT else channel(role)


class Idle:
    """An idle circuit of R-32 in air of 20 °C, watched; its pressure by CoolProp."""

    def __init__(self, **limits: float) -> None:
        job = limited(rig_job(), {LimitKey(key): value for key, value in limits.items()})
        self.rig = Rig(job, tuple(idle(role) for role in IDLE))
        self.watch = StandingWatch(job)

    def stand(
        self, shift_k: float = 0.0, seconds: int = 420, *,
        apart_pa: float = 20e3, line_k: float = 30.0, amps: float = 0.3,
    ) -> Standing | None:  # fmt: skip
        """Let it stand with a pressure that far over saturation; return what the check says."""
        station_pa = self.rig.processor.tick(self.rig.t)[0].station_pa_abs
        pressure = CoolProp.PropsSI("P", "T", C + 20.0 + shift_k, "Q", 0, "R32") - station_pa
        more = {
            Role.LIQUID_PRESSURE: pressure,
            Role.SUCTION_PRESSURE: pressure - apart_pa,
            Role.LIQUID_TEMPERATURE: C + 20.0 + line_k,
            Role.OUTDOOR_AIR_TEMPERATURE: C + 20.0,
            Role.COMPRESSOR_CURRENT: amps,
        }
        for _ in range(seconds):
            self.watch.tick(self.rig.run(1, more=more)[-1])
        return self.watch.result


@pytest.mark.parametrize(
    ("shift_k", "limits", "verdict"),
    [
        (0.0, {}, StandingVerdict.AGREES),
        (2.0, {}, StandingVerdict.SHIFTED),
        (2.0, {"standing_allowed": 3.5}, StandingVerdict.AGREES),
        (1.4, {}, StandingVerdict.SHIFTED_NOT_CERTAIN),
        (1.4, {"standing_place": 0.1}, StandingVerdict.SHIFTED),
        (
            1.4,
            {"standing_place": 0.1, "barometer_accuracy": 19e3},
            StandingVerdict.SHIFTED_NOT_CERTAIN,
        ),
    ],
)
def test_what_a_pressure_at_rest_may_be_off(
    shift_k: float, limits: dict[str, float], verdict: StandingVerdict
) -> None:
    found = Idle(**limits).stand(shift_k)
    assert found is not None
    assert found.check.verdict is verdict


@pytest.mark.parametrize(
    ("how", "limits"),
    [
        ({"seconds": 240}, {"standing_rest": 150.0}),
        ({"apart_pa": 60e3}, {"standing_equal": 90e3}),
        ({"apart_pa": 500e3, "line_k": 1.5}, {"standing_cooled": 2.0}),
        ({"amps": 0.8}, {"idle_current": 1.0}),
    ],
)
def test_when_a_circuit_counts_as_one_at_rest(
    how: dict[str, float], limits: dict[str, float]
) -> None:
    assert Idle().stand(**how) is None  # type: ignore[arg-type]
    assert Idle(**limits).stand(**how) is not None  # type: ignore[arg-type]


@pytest.mark.parametrize(("moved_k", "moved"), [(0.9, False), (0.4, True)])
def test_by_how_much_it_may_have_moved_since_the_first_check(moved_k: float, moved: bool) -> None:
    circuit = Idle(standing_moved=moved_k)
    assert circuit.stand(0.0) is not None
    found = circuit.stand(0.6)
    assert found is not None
    assert (found.moved is not None) is moved


# Other rules.


@pytest.mark.parametrize("settles_s", [90.0, 200.0])
def test_a_clamp_put_on_is_waited_for_as_long_as_the_profile_says(settles_s: float) -> None:
    """90 s: California RA3.2.2.2.2.2 (2013)."""
    rig = Rig(limited(rig_job(), {LimitKey.PROBE_SETTLING: settles_s}))
    rig.until_settled()
    seen_t = rig.t + 0.2
    mark = Mark(t=seen_t, kind=MarkKind.PROBE_SEEN_TO, text="liquid_temperature")
    rig.processor.take(mark)
    waits = [f.t for f in rig.run(400) if f.settling.cause == "clamp_settles"]
    assert waits[0] <= seen_t + 1.0
    assert waits[-1] == pytest.approx(seen_t + settles_s, abs=1.0)
    assert rig.facts is not None
    assert rig.facts.settled is not None


def test_a_pressure_probe_put_right_is_no_clamp() -> None:
    rig = Rig()
    rig.until_settled()
    rig.processor.take(Mark(t=rig.t, kind=MarkKind.PROBE_SEEN_TO, text="liquid_pressure"))
    assert "clamp_settles" not in {facts.settling.cause for facts in rig.run(120)}
