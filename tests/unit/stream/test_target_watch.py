"""The target of a fixed orifice, live: which probes it is read from, and when there is none."""

import pytest

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import Target
from chargeassist.model.limits import LimitKey, Method
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.stream.entered import TypedNumbers
from chargeassist.stream.facts import TargetFacts
from chargeassist.stream.target_watch import AVERAGED_OVER_S, LOOKED_UP_EVERY_S, TargetWatch
from chargeassist.stream.windows import ChannelWindow

TABLE = Target(method=Method.SUPERHEAT, tolerance_k=25.0 / 9.0, source="published table")
STATION_PA = 101_325.0
F = 5.0 / 9.0


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) * F + KELVIN_AT_0_C


def windows(*roles: Role, accuracy: Accuracy | None = None) -> dict[Role, ChannelWindow]:
    made = {
        role: ChannelWindow(Channel(name=role.value, role=role, unit="K", accuracy=accuracy))
        for role in roles
    }
    for window in made.values():
        window.value = 0.0  # it reads; what, is told beside it
    return made


OUT, WET, DRY, HUMID = (
    Role.OUTDOOR_AIR_TEMPERATURE,
    Role.RETURN_AIR_WET_BULB,
    Role.RETURN_AIR_TEMPERATURE,
    Role.RETURN_AIR_HUMIDITY,
)


def at(live: dict[Role, float], target: Target = TABLE, *, accuracy: Accuracy | None = None):  # type: ignore[no-untyped-def]
    return TargetWatch(target).tick(1.0, live, windows(*live, accuracy=accuracy), STATION_PA)


def test_the_number_of_the_job_needs_no_probe_and_does_not_move() -> None:
    fixed = Target(method=Method.SUPERHEAT, superheat_k=5.0, tolerance_k=2.0, source="maker")
    found = TargetWatch(fixed).tick(1.0, {}, {}, STATION_PA)
    assert isinstance(found, TargetFacts)
    assert (found.value_k, found.low_k, found.high_k) == (5.0, 3.0, 7.0)
    assert found.basis == "maker"
    assert found.expanded_k == 0.0


def test_the_wet_bulb_of_a_probe_reads_the_printed_cell() -> None:
    # Outdoor 85 °F, wet bulb 66 °F: 15 °F (equipment manual, see physics.target_superheat).
    found = at({OUT: kelvin(85.0), WET: kelvin(66.0)}, accuracy=Accuracy(absolute_si=0.5))
    assert isinstance(found, TargetFacts)
    assert found.value_k == pytest.approx(15.0 * F)
    assert found.wet_bulb_told_by == "probe"
    assert found.outdoor_k == pytest.approx(kelvin(85.0))
    # Table ±1.5 °F, wet bulb slope (19 - 11) / 4 = 2 and outdoor slope (13 - 18) / 10 = -0.5 °F/°F,
    # each with a rectangular ±0.5 K: the sum of squares by hand.
    u = 2.0 / 3.0**0.5
    by_hand = ((u * 1.5 * F) ** 2 + (2.0 * u * 0.5) ** 2 + (0.5 * u * 0.5) ** 2) ** 0.5
    assert found.expanded_k == pytest.approx(by_hand, rel=1e-6)


def test_dry_bulb_and_humidity_give_the_wet_bulb() -> None:
    # 80 °F dry bulb with 67 °F wet bulb is 51.1 % at sea level (ASHRAE Fundamentals 2017, by
    # psychrolib); the table has 85 °F / 67 °F half way between 15 and 19 °F.
    live = {OUT: kelvin(85.0), DRY: kelvin(80.0), HUMID: 0.511}
    found = at(live)
    assert isinstance(found, TargetFacts)
    assert found.wet_bulb_k == pytest.approx(kelvin(67.0), abs=0.05)
    assert found.value_k == pytest.approx(17.0 * F, abs=0.1)
    assert found.wet_bulb_told_by == "dry bulb and humidity"
    assert found.expanded_k is None  # nothing was declared


def test_a_probe_goes_before_what_was_typed_and_typed_before_nothing() -> None:
    typed = Target(
        method=Method.SUPERHEAT, tolerance_k=2.0, source="table",
        return_wet_bulb_k=kelvin(64.0), return_wet_bulb_source="psychrometer, 10:40",
    )  # fmt: skip
    by_probe = at({OUT: kelvin(85.0), WET: kelvin(66.0)}, typed)
    by_hand = at({OUT: kelvin(85.0)}, typed)
    assert isinstance(by_probe, TargetFacts)
    assert isinstance(by_hand, TargetFacts)
    assert by_probe.value_k == pytest.approx(15.0 * F)
    assert by_hand.value_k == pytest.approx(11.0 * F)
    assert by_hand.wet_bulb_told_by == "typed: psychrometer, 10:40"


@pytest.mark.parametrize(
    ("live", "words"),
    [
        ({WET: kelvin(66.0)}, "no outdoor air probe"),
        ({OUT: kelvin(85.0)}, "no return air wet bulb probe"),
        ({OUT: kelvin(85.0), HUMID: 0.5}, "no return air probe"),
        ({OUT: kelvin(95.0), WET: kelvin(60.0)}, "weigh the charge in"),  # a dash of the table
        ({OUT: kelvin(120.0), WET: kelvin(66.0)}, "outside the table"),
    ],
)
def test_there_is_no_target_and_the_reason_says_why(live: dict[Role, float], words: str) -> None:
    found = at(live)
    assert isinstance(found, NoValue)
    assert words in found.reason


def test_a_probe_that_falls_silent_takes_its_target_along_at_once() -> None:
    watch, there = TargetWatch(TABLE), windows(OUT, WET)
    live = {OUT: kelvin(85.0), WET: kelvin(66.0)}
    assert isinstance(watch.tick(1.0, live, there, STATION_PA), TargetFacts)
    gone = watch.tick(2.0, {OUT: kelvin(85.0)}, there, STATION_PA)
    assert gone == NoValue("no signal from return air wet bulb")
    assert isinstance(watch.tick(3.0, live, there, STATION_PA), TargetFacts)


def test_outdoor_air_typed_for_a_silent_probe_has_the_accuracy_of_what_is_typed() -> None:
    live = {OUT: kelvin(85.0), WET: kelvin(66.0)}
    fine = Accuracy(absolute_si=0.05)
    there = windows(OUT, WET, accuracy=fine)
    there[OUT].value = None  # silent: what is live was typed
    watch = TargetWatch(TABLE, typed_half_width_k=1.5)
    found = watch.tick(1.0, live, there, STATION_PA)
    assert isinstance(found, TargetFacts)
    # As above: table ±1.5 °F, 2 °F/°F of the wet bulb's ±0.05 K, -0.5 °F/°F of ±1.5 K typed.
    u = 2.0 / 3.0**0.5
    by_hand = ((u * 1.5 * F) ** 2 + (2.0 * u * 0.05) ** 2 + (0.5 * u * 1.5) ** 2) ** 0.5
    assert found.expanded_k == pytest.approx(by_hand, rel=1e-6)


def test_a_gust_moves_the_target_little_and_a_change_of_weather_moves_it_all_the_way() -> None:
    watch, there = TargetWatch(TABLE), windows(OUT, WET)
    wet = {WET: kelvin(66.0)}
    watch.tick(0.0, {OUT: kelvin(85.0)} | wet, there, STATION_PA)
    gust = watch.tick(LOOKED_UP_EVERY_S, {OUT: kelvin(90.0)} | wet, there, STATION_PA)
    assert isinstance(gust, TargetFacts)
    assert gust.value_k == pytest.approx(15.0 * F, abs=0.15)  # 13 °F at 90 °F
    end_t = 8.0 * AVERAGED_OVER_S
    for second in range(round(LOOKED_UP_EVERY_S) + 1, round(end_t)):
        watch.tick(float(second), {OUT: kelvin(90.0)} | wet, there, STATION_PA)
    later = watch.tick(end_t, {OUT: kelvin(90.0)} | wet, there, STATION_PA)
    assert isinstance(later, TargetFacts)
    assert later.value_k == pytest.approx(13.0 * F, abs=0.05)


def test_the_band_does_not_reach_down_to_where_liquid_reaches_the_compressor() -> None:
    found = at({OUT: kelvin(95.0), WET: kelvin(64.0)})  # 6 °F, ± 5 °F
    assert isinstance(found, TargetFacts)
    assert found.low_k == pytest.approx(4.0 * F)  # not 1 °F: RA3.2 (2008), metering device check
    assert found.high_k == pytest.approx(11.0 * F)


def test_typed_air_gives_a_target_while_it_is_fresh() -> None:
    """85 °F outdoors and 65 °F wet bulb lie between 11 and 15 °F of the printed row: 13 °F."""
    entered = TypedNumbers()
    watch = TargetWatch(TABLE, entered)
    nothing = watch.tick(1.0, entered.air(1.0), {}, 101325.0)
    assert isinstance(nothing, NoValue)
    assert "type what it is" in nothing.reason
    for entry, temp_f in ((Entry.OUTDOOR_AIR, 85.0), (Entry.RETURN_WET_BULB, 65.0)):
        temp_k = (temp_f + 459.67) / 1.8
        entered.take(Mark(t=2.0, kind=MarkKind.ENTERED, text=entry.value, value_si=temp_k))
    found = watch.tick(10.0, entered.air(10.0), {}, 101325.0)
    assert isinstance(found, TargetFacts)
    assert found.value_k == pytest.approx(13.0 / 1.8, abs=0.01)
    assert found.wet_bulb_told_by == "typed in this session"
    assert found.expanded_k is not None
    assert found.expanded_k > 0.0
    late = 2.0 + USUAL[LimitKey.TYPED_AIR_LASTS].value_si + 10.0
    assert isinstance(watch.tick(late, entered.air(late), {}, 101325.0), NoValue)


def test_an_older_number_of_the_job_does_not_replace_one_that_was_typed_since() -> None:
    """The job's wet bulb was read before the session: once another was typed, it is outdated."""
    lasts_s = USUAL[LimitKey.TYPED_AIR_LASTS].value_si
    job = Target(
        method=Method.SUPERHEAT, tolerance_k=2.0, source="table",
        return_wet_bulb_k=kelvin(63.0), return_wet_bulb_source="psychrometer, 10:40",
    )  # fmt: skip
    entered = TypedNumbers()
    watch = TargetWatch(job, entered)
    live = {OUT: kelvin(85.0)}
    before = watch.tick(1.0, live, windows(OUT), STATION_PA)
    assert isinstance(before, TargetFacts)
    wet = Entry.RETURN_WET_BULB.value
    entered.take(Mark(t=10.0, kind=MarkKind.ENTERED, text=wet, value_si=kelvin(66.0)))
    found = watch.tick(10.0 + LOOKED_UP_EVERY_S, live, windows(OUT), STATION_PA)
    assert isinstance(found, TargetFacts)
    assert found.value_k == pytest.approx(15.0 * F)
    later = watch.tick(11.0 + lasts_s + LOOKED_UP_EVERY_S, live, windows(OUT), STATION_PA)
    assert isinstance(later, NoValue)
    assert "type what it is" in later.reason


def test_a_table_that_asks_for_less_than_protects_the_compressor_gives_no_target() -> None:
    """Its band would be empty: more would be added and recovered in turn for ever."""
    job = Target(
        method=Method.SUPERHEAT, tolerance_k=1.0, source="table",
        superheat_low_k=12.0 * F, superheat_source="maker",
    )  # fmt: skip
    # The table has 8 °F at 85 °F outdoors and 62 °F wet bulb, 15 °F at 66 °F.
    low = at({OUT: kelvin(85.0), WET: kelvin(62.0)}, job)
    assert isinstance(low, NoValue)
    assert "less superheat than protects the compressor" in low.reason
    enough = at({OUT: kelvin(85.0), WET: kelvin(66.0)}, job)
    assert isinstance(enough, TargetFacts)
    assert enough.low_k < enough.high_k
