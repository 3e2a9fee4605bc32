"""The first charge by weight, told through a whole assistant. The unit is invented."""

import random
import statistics
from collections.abc import Iterator

import pytest

from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, CheckResult, MarkKind, Stage
from chargeassist.model.values import NoValue
from tests.unit.guide.stages.conftest import Make, Work

PLATE = """
[plate]
safety_group = "A2L"
room_area = "12 m2"
source = "unit plate"
"""
LINE = """
[line_set]
length = "12 m"
included = "7.5 m"
liquid_diameter = "3/8 in"
metering = "indoor"
adder = "{adder}"
adder_source = "installation manual, page 18"
"""
CYLINDER = """
[cylinder]
tare = "5.9 kg"
water_capacity = "11.8 kg"
gross = "8.4 kg"
"""


def opened(job: Work) -> Work:
    """Begin with 8.4 kg of cylinder on the scale, and open its valve."""
    on_the_scale(job)
    job.mark(MarkKind.STEP_BEGUN)
    return job


def on_the_scale(job: Work) -> Work:
    """Begin with 8.4 kg of cylinder at rest on the scale."""
    job.readings = {"cylinder_mass": 8.4}
    job.begin(Stage.WEIGH_IN)
    job.run(20)
    return job


def flow(job: Work, begin_g: int, end_g: int) -> Iterator[tuple[int, str]]:
    """Let 25 g a second leave the cylinder; yield what is gone [g], and the cause that is said."""
    for gone_g in range(begin_g, end_g, 25):
        job.readings = {"cylinder_mass": 8.4 - gone_g / 1000.0}
        yield gone_g, job.run(1).advice.cause


def test_plate_and_line_set_are_added_up_and_weighed_in(work: Make) -> None:
    # 2.30 kg + 50 g/m x (12 - 7.5) m = 2.525 kg.
    job = work(PLATE + LINE.format(adder="50 g/m"))
    job.begin(Stage.WEIGH_IN)
    assert job.run(1).advice.mass_kg == pytest.approx(2.525)
    assert "0 g of 2.525 kg is in" in job.says or "0 g of 2.52" in job.says
    assert "12.0 m2 by the plate (A2L)" in job.rows["minimum room area"][0]
    job.mark(MarkKind.STEP_BEGUN)
    assert job.run(5).advice.action is Action.WAIT
    job.mark(MarkKind.STEP_ENDED, mass_kg=2.0)
    assert job.run(2).advice.mass_kg == pytest.approx(0.525)
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=0.525)
    job.run(2)
    assert job.snapshot.advice.cause == "weigh_in_done"
    check = job.checks()[-1]
    assert (check.stage, check.result) == (Stage.WEIGH_IN, CheckResult.RECORDED)
    assert check.figures["kg"] == pytest.approx(2.525)
    assert check.sources[0] == "installation manual, page 18"
    assert [each.split(":")[0] for each in check.sources[1:]] == ["line set, length told to 0.1 m"]
    # The key leads on to the run-up, and the charge is known there.
    assert job.done().stage is Stage.RUN_UP
    assert job.snapshot.facts.total_kg == pytest.approx(2.525)


@pytest.mark.parametrize("by_scale", [False, True])
def test_a_weighing_told_in_the_second_the_run_begins_is_no_step_of_the_charging(
    work: Make, *, by_scale: bool
) -> None:
    """Nor is one that still waits for its scale to come to rest."""
    job = opened(work(PLATE + LINE.format(adder="50 g/m")))
    list(flow(job, 0, 1000))
    if by_scale:
        job.mark(MarkKind.STEP_ENDED)
    else:
        job.mark(MarkKind.STEP_ENDED, mass_kg=1.0)
    job.mark(MarkKind.STAGE_BEGUN, Stage.RUN_UP.value)
    job.readings |= {"liquid_pressure": 1.2e6, "liquid_temperature": 295.0}
    assert job.run(30).stage is Stage.RUN_UP
    assert job.snapshot.facts.total_kg == pytest.approx(1.0, abs=0.03)


def test_a_charge_is_known_as_the_difference_of_two_weighings_is(work: Make) -> None:
    """Two rectangular limits of 5 g, and 0.1 m of line at 50 g/m; drawn at random (JCGM 101)."""
    job = on_the_scale(work(PLATE + LINE.format(adder="50 g/m")))
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=0.5)
    job.run(2)
    draw = random.Random(20)
    errors = [
        draw.uniform(-5.0, 5.0) - draw.uniform(-5.0, 5.0) - 50.0 * draw.uniform(-0.1, 0.1)
        for _ in range(40_000)
    ]
    expanded_g = 1000.0 * job.checks()[-1].figures["expanded_kg"]
    assert expanded_g == pytest.approx(2.0 * statistics.pstdev(errors), rel=0.02)


def test_a_share_of_the_scale_s_reading_counts_of_the_whole_cylinder(work: Make) -> None:
    scale = (("cylinder_mass", "kg", "1 % of reading"),)
    job = on_the_scale(work(PLATE + CYLINDER, probes=scale))
    step = job.snapshot.stage_step
    assert step is not None
    row = next(row for row in step.rows if row.key == "cylinder")
    assert row.figures["expanded_kg"] == pytest.approx(2.0 * 0.084 / 3.0**0.5)


def test_the_scale_says_when_the_charge_is_in_while_the_valve_is_open(work: Make) -> None:
    job = opened(work(PLATE + LINE.format(adder="50 g/m")))  # 2.525 kg, as above
    causes = dict(flow(job, 0, 2700))
    full = [gone_g for gone_g, cause in causes.items() if cause == "weigh_in_full"]
    # 25 g are left at 2.500 kg, nothing at 2.525; a tick judges the second before it.
    assert full == list(range(2550, 2700, 25))
    assert {causes[gone_g] for gone_g in range(0, 2550, 25)} == {"weigh_in_open"}


def test_a_scale_that_dies_with_the_valve_open_has_it_shut_and_the_amount_told(work: Make) -> None:
    """Silent beyond a probe's usual time: what it said last stands, and what to do is said."""
    job = on_the_scale(work(PLATE + LINE.format(adder="50 g/m")))
    list(flow(job, 0, 500))  # nobody told that it begins: the scale sees it
    assert job.snapshot.advice.cause == "weigh_in_open"
    assert job.snapshot.stage_step is not None
    (weighed,) = (row for row in job.snapshot.stage_step.rows if row.key == "weighed")
    # What has gone is counted while it flows, but for what left since the tick before.
    assert weighed.figures["kg"] == pytest.approx(0.475, abs=0.026)
    job.readings = {}
    job.run(60)
    assert job.snapshot.advice.cause == "weigh_in_scale_lost"
    assert job.says.startswith("Shut the valve: the scale no longer reads; ")
    assert "475 g more by the scale when it last did" in job.says
    assert "end the step with the amount" in job.says
    job.mark(MarkKind.STEP_ENDED, mass_kg=0.5)
    job.run(6)
    assert job.snapshot.facts.step_open is None
    assert job.snapshot.facts.total_kg == pytest.approx(0.5)


def test_a_charge_that_no_longer_flows_in_goes_on_with_the_unit_running(work: Make) -> None:
    """In a standing circuit the pressures meet before all of it is in (common practice)."""
    job = opened(work(PLATE + LINE.format(adder="50 g/m")))
    assert job.run(60).advice.cause == "weigh_in_open"  # nothing has flowed yet
    assert {cause for _, cause in flow(job, 0, 1825)} == {"weigh_in_open"}
    assert job.run(20).advice.cause == "weigh_in_open"
    assert job.run(15).advice.cause == "weigh_in_ebbed"
    assert "nothing flows any more" in job.says
    job.readings = {"cylinder_mass": 8.4 - 1.85}  # the cylinder was shaken: it flows again
    assert job.run(5).advice.cause == "weigh_in_open"
    assert job.run(35).advice.cause == "weigh_in_ebbed"
    job.mark(MarkKind.STEP_ENDED)
    assert job.run(6).advice.cause == "weigh_in_rest"
    assert "1.85 kg of 2.5" in job.says
    assert job.done().stage is Stage.RUN_UP
    assert job.snapshot.facts.total_kg == pytest.approx(1.85)


def test_the_annex_formulas_are_shown_as_information_beside_the_plate(work: Make) -> None:
    """45.02 m2 for 2.30 kg of R-32 on the floor: manualshive.com/en/manual/panasonic/
    wh-adc0309k3e5/4216487, page 242, after IEC 60335-2-40."""
    job = work(PLATE)
    job.begin(Stage.WEIGH_IN)
    job.run(1)
    text = job.rows["annex formulas"][0]
    assert "45.0 m2 for a unit on the floor" in text
    assert "for information" in text
    assert "the plate's minimum room area counts" in text
    assert "minimum room area" in job.rows


def test_too_much_is_to_be_recovered(work: Make) -> None:
    job = work(LINE.format(adder="50 g/m"))
    job.begin(Stage.WEIGH_IN)
    job.run(1)
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=2.7)
    assert job.run(2).advice.action is Action.RECOVER
    assert job.snapshot.advice.mass_kg == pytest.approx(0.175)


def test_an_amount_nobody_said_stands_in_the_way(work: Make) -> None:
    job = work(LINE.format(adder="50 g/m"))
    job.begin(Stage.WEIGH_IN)
    job.run(1)
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED)
    assert job.run(2).advice.cause == "mass_unknown"


def test_a_short_line_set_is_a_question_not_a_rule(work: Make) -> None:
    short = LINE.format(adder="50 g/m").replace('"12 m"', '"3 m"')
    job = work(short)
    job.begin(Stage.WEIGH_IN)
    text, state = job.rows["line set"]
    assert "take refrigerant out" in text
    assert state == "doubt"
    taken = work(short + 'short_line = "take out"\n')
    taken.begin(Stage.WEIGH_IN)
    assert taken.run(1).advice.mass_kg == pytest.approx(2.30 - 0.05 * 4.5)
    left = work(short + 'short_line = "leave"\n')
    left.begin(Stage.WEIGH_IN)
    assert left.run(1).advice.mass_kg == pytest.approx(2.30)


def test_without_the_maker_s_adder_only_the_plate_is_weighed_in(work: Make) -> None:
    line = LINE.format(adder="50 g/m").replace('adder = "50 g/m"\n', "")
    line = line.replace('adder_source = "installation manual, page 18"\n', "")
    job = work(line, refrigerant="R-410A")
    job.begin(Stage.WEIGH_IN)
    text, state = job.rows["line set"]
    assert "other units' manuals print this" in text
    assert state == "doubt"
    assert job.run(1).advice.mass_kg == pytest.approx(2.30)
    assert "by the plate alone" in job.says


def test_an_adder_the_pipe_cannot_hold_is_doubted(work: Make) -> None:
    # 0.6 oz/ft once printed as .018 kg/m: a third of what a full 3/8 in line holds.
    job = work(LINE.format(adder="0.018 kg/m"), refrigerant="R-410A")
    job.begin(Stage.WEIGH_IN)
    assert job.rows["against the pipe"][1] == "doubt"
    right = work(LINE.format(adder="0.6 oz/ft"), refrigerant="R-410A")
    right.begin(Stage.WEIGH_IN)
    assert right.rows["against the pipe"][1] == ""


def test_the_cylinder_is_watched(work: Make) -> None:
    # AHRI Guideline K: 0.8 x 11.8 kg x 0.96 (R-32 at 77 °F) = 9.07 kg; 2.5 kg are in it.
    job = work(LINE.format(adder="50 g/m") + CYLINDER)
    job.begin(Stage.WEIGH_IN)
    text, state = job.rows["cylinder"]
    assert text.startswith("2.50 kg")
    assert "not enough" in text
    assert "it is full at 14.97 kg on the scale" in text  # with its tare of 5.9 kg
    assert state == "doubt"
    job.enter(Entry.CYLINDER_GROSS, 9.4)
    job.run(1)
    assert job.rows["cylinder"][1] == ""
    job.enter(Entry.CYLINDER_GROSS, 15.2)
    job.run(1)
    assert "more than the cylinder may hold" in job.rows["cylinder"][0]


def test_nothing_of_a_running_unit_is_judged_meanwhile(work: Make) -> None:
    job = work()
    job.readings = {"liquid_pressure": 1.5e6, "liquid_temperature": 290.0}
    job.begin(Stage.WEIGH_IN)
    facts = job.run(300).facts
    assert facts.settled is None
    assert not facts.findings
    assert isinstance(facts.subcooling, NoValue)
    assert "does not run" in facts.subcooling.reason


def test_what_the_line_set_takes_is_not_over_the_plate_afterwards(work: Make) -> None:
    job = work(LINE.format(adder="50 g/m"))
    assert job.job.charge.full_kg == pytest.approx(2.525)
    assert job.job.charge.allowance_source == "installation manual, page 18"
    job.begin(Stage.WEIGH_IN)
    job.run(1)
    assert "allowance of the job" not in job.rows
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=2.525)
    job.run(2)
    job.done()
    job.readings = {"liquid_pressure": 2.2e6, "liquid_temperature": 300.0}
    job.run(30)
    assert "over_" not in job.snapshot.advice.cause


def test_an_allowance_that_is_typed_comes_before_the_adder(work: Make) -> None:
    tables = 'line_set_allowance = "100 g"\n' + LINE.format(adder="50 g/m")
    job = work(tables)
    assert job.job.charge.full_kg == pytest.approx(2.40)
    assert job.job.charge.allowance_source == ""
    job.begin(Stage.WEIGH_IN)
    assert "typed" in job.rows["allowance of the job"][0]
    assert job.run(1).advice.mass_kg == pytest.approx(2.40)


def test_a_cylinder_weight_nobody_believes_leaves_the_one_before(work: Make) -> None:
    """A typing error is not an empty cylinder: the numbers of other stages are kept likewise."""
    job = work(PLATE + LINE.format(adder="50 g/m") + CYLINDER)
    job.begin(Stage.WEIGH_IN)
    job.run(1)
    before = job.rows["cylinder"]
    job.enter(Entry.CYLINDER_GROSS, 14_000.0)
    job.run(1)
    assert job.rows["cylinder"] == before


def test_without_a_scale_probe_the_technician_says_that_nothing_flows_any_more(work: Make) -> None:
    sheet = PLATE + LINE.format(adder="50 g/m")
    job = work(sheet, probes=(("outdoor_air_temperature", "K", "0.3 K"),))
    job.begin(Stage.WEIGH_IN)
    job.run(1)
    assert job.stage_step.next_mark is None  # nothing is in: add
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=1.9)
    assert job.run(1).advice.action is Action.ADD
    assert job.next_mark.label == "begin the run-up"
    assert job.done().stage is Stage.RUN_UP


LIMIT = 'limit = "1.90 kg"\nlimit_source = "A2L: plate, room of 12 m2"'


def test_no_more_is_weighed_in_than_the_room_allows(work: Make) -> None:
    """The limit of a refrigerant that burns comes before plate and line set."""
    job = work(LIMIT + PLATE + LINE.format(adder="50 g/m"))
    job.begin(Stage.WEIGH_IN)
    assert job.run(1).advice.mass_kg == pytest.approx(1.9)
    assert "no more than 1.90 kg may be [A2L: plate, room of 12 m2]" in job.says
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=1.9)
    assert job.run(2).advice.cause == "weigh_in_done"
    assert "A2L: plate, room of 12 m2" in job.checks()[-1].sources
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=0.008)  # less than a scale's slack, but over the limit
    over = job.run(60).advice
    assert (over.action, over.cause) == (Action.RECOVER, "weigh_in_over")
    assert over.mass_kg == pytest.approx(0.008)
    assert "plate and line set take" not in job.says


def test_a_hand_at_the_cylinder_valve_never_reads_wait_once_all_is_in(work: Make) -> None:
    job = opened(work(PLATE + LINE.format(adder="50 g/m")))
    list(flow(job, 0, 1825))
    job.run(40)
    assert job.snapshot.advice.cause == "weigh_in_ebbed"
    assert job.says.startswith("Shut the valve: ")
    list(flow(job, 1825, 2600))
    assert job.snapshot.advice.cause == "weigh_in_full"
    assert job.says.startswith("Shut the valve: ")


def test_a_cylinder_that_empties_into_the_circuit_is_not_short(work: Make) -> None:
    """2.5 kg are in it, 2.3 kg are asked for: what has gone in already is not asked for again."""
    job = opened(work(CYLINDER))
    for gone_g, _ in flow(job, 0, 2000):
        text, state = job.rows["cylinder"]
        assert (state, "not enough" in text) == ("", False), gone_g


def test_another_filling_is_weighed_in_from_the_beginning(work: Make) -> None:
    """A compressor must never start on an empty circuit because of what was in before.

    Common practice, no published source: after a leak was mended all is recovered, the circuit is
    evacuated, and the whole charge is weighed in anew.
    """
    job = opened(work(PLATE + LINE.format(adder="50 g/m")))
    list(flow(job, 0, 1825))
    job.run(40)
    job.mark(MarkKind.STEP_ENDED)
    assert job.run(6).advice.cause == "weigh_in_rest"
    job.done()
    job.readings = {}
    job.run(60)
    job.begin(Stage.DRYNESS)
    job.mark(MarkKind.PUMP_ON)
    job.run(60)
    job.begin(Stage.WEIGH_IN)
    assert job.run(2).advice.cause == "weigh_in_evacuated"
    assert "1.80 kg went in before the vacuum pump ran" in job.says
    assert job.stage_step.next_mark is None
    job.mark(MarkKind.STEP_ENDED, mass_kg=-1.8)
    again = job.run(60).advice
    assert (again.action, again.cause) == (Action.ADD, "weigh_in_to_go")
    assert again.mass_kg == pytest.approx(2.525)
    job.mark(MarkKind.STEP_BEGUN)
    job.mark(MarkKind.STEP_ENDED, mass_kg=2.525)
    assert job.run(2).advice.cause == "weigh_in_done"


def test_a_factory_charge_behind_shut_valves_is_not_taken_for_lost(work: Make) -> None:
    """Line set and indoor coil are evacuated while the outdoor unit holds its charge."""
    job = work('weighed_in = "1.90 kg"\n' + PLATE + LINE.format(adder="50 g/m"))
    job.begin(Stage.DRYNESS)
    job.mark(MarkKind.PUMP_ON)
    job.run(60)
    job.begin(Stage.WEIGH_IN)
    assert job.run(2).advice.mass_kg == pytest.approx(0.625)
