"""What a standing test under nitrogen may rest on: its gauge, its pressure, a shut supply."""

from dataclasses import replace

from chargeassist.model.channels import Role
from chargeassist.model.events import Action, CheckResult, MarkKind
from tests.unit.guide.stages.conftest import Make, Work, make_job
from tests.unit.guide.stages.nitrogen import PLATE, empty, raised, undeclared


def test_a_second_test_stands_at_its_pressure_too(work: Make) -> None:
    """Once the nitrogen was out the raise begins anew, whatever the first test had come to."""
    job = work(PLATE)
    raised(job)
    job.until(lambda s: s.advice.cause == "tight", 2400)
    job.mark(MarkKind.VENTED)
    job.stands_at(0.0)
    job.run(5)
    job.mark(MarkKind.NITROGEN_ON)
    job.stands_at(0.5e6)
    assert job.run(5).advice.cause == "nitrogen_step"
    job.mark(MarkKind.NITROGEN_OFF)
    assert job.run(2400).advice.cause == "nitrogen_raise"
    assert "2000 kPa" in job.says
    assert len(job.checks()) == 1


def test_what_is_left_of_a_leaking_circuit_is_no_test_pressure(work: Make) -> None:
    job = work(PLATE)
    raised(job)
    job.run(100)
    job.mark(MarkKind.NITROGEN_ON)
    job.stands_at(1.2e6)
    assert job.run(3).advice.cause == "nitrogen_raise"
    job.stands_at(2.0e6)
    assert job.run(3).advice.cause == "nitrogen_shut"


def test_the_gauge_a_test_began_with_is_not_replaced_by_another(work: Make) -> None:
    """The other reads 60 kPa higher, and the circuit loses as much while the first is silent."""
    job = work(PLATE)
    raised(job)
    job.readings["suction_pressure"] = 2.06e6
    job.run(900)
    del job.readings["liquid_pressure"]
    job.readings["suction_pressure"] = 2.0e6
    assert job.run(1200).advice.cause == "standing_unread"
    assert "no reading of liquid line pressure" in job.says
    assert job.checks() == []
    job.readings["liquid_pressure"] = 1.94e6
    job.until(lambda s: s.advice.cause == "nitrogen_leaks", 120)
    # Told again that the supply is shut, it begins anew with what reads.
    del job.readings["liquid_pressure"]
    job.run(20)
    job.mark(MarkKind.NITROGEN_OFF)
    assert job.run(5).advice.cause == "standing"
    job.until(lambda s: s.advice.cause == "tight", 2000)


def test_a_pipe_that_stays_silent_is_named_instead_of_waited_for(work: Make) -> None:
    job = work(PLATE)
    raised(job)
    job.run(700)
    del job.readings["suction_temperature"]
    advice = job.run(60).advice
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "standing_unread")
    assert "suction line temperature" in job.says


def test_without_a_pipe_that_reads_the_supply_is_not_to_be_shut_for_ever(work: Make) -> None:
    job = empty(work)
    job.mark(MarkKind.NITROGEN_ON)
    job.stands_at(0.3e6)
    job.run(70)
    job.readings = {"liquid_pressure": 2.0e6, "suction_pressure": 2.0e6}
    assert job.run(30).advice.cause == "nitrogen_shut"
    job.mark(MarkKind.NITROGEN_OFF)
    assert job.run(3).advice.cause == "standing_unread"
    assert "liquid line temperature and suction line temperature" in job.says


def test_too_much_pressure_is_said_whatever_was_told_of_the_supply(work: Make) -> None:
    job = work(PLATE)
    raised(job)
    job.run(50)
    job.mark(MarkKind.VENTED)
    job.stands_at(2.5e6)
    assert job.run(5).advice.cause == "nitrogen_too_high"


def test_a_supply_that_nobody_told_of_has_to_be_shut_before_anything_stands(work: Make) -> None:
    """A regulator left open feeds what leaks out."""
    job = empty(work)
    job.stands_at(0.3e6)
    assert job.run(5).advice.cause == "nitrogen_step"
    job.run(70)
    job.stands_at(2.0e6)
    assert job.run(3000).advice.cause == "nitrogen_shut"
    assert job.checks() == []
    job.mark(MarkKind.NITROGEN_OFF)
    assert job.run(3).advice.cause == "standing"


def test_a_fall_in_a_short_hold_is_said_until_something_is_done(work: Make) -> None:
    job = empty(work)
    job.mark(MarkKind.NITROGEN_ON)
    job.stands_at(0.4e6)
    job.run(5)
    job.mark(MarkKind.NITROGEN_OFF)
    job.stands_at(0.32e6)
    assert job.run(20).advice.cause == "nitrogen_falls"
    job.stands_at(0.1e6)
    assert job.run(20).advice.cause == "nitrogen_falls"
    job.mark(MarkKind.NITROGEN_ON)
    assert job.run(2).advice.cause == "nitrogen_raise"


def test_a_hold_that_stands_to_its_end_after_a_fall_ends_the_word_of_it(work: Make) -> None:
    job = empty(work)
    job.mark(MarkKind.NITROGEN_ON)
    job.stands_at(0.4e6)
    job.run(5)
    job.mark(MarkKind.NITROGEN_OFF)
    job.stands_at(0.32e6)
    job.until(lambda s: s.advice.cause == "nitrogen_falls", 5)
    job.until(lambda s: s.advice.cause == "nitrogen_raise", 70)


def test_a_supply_found_open_in_a_rising_test_is_shut_and_the_test_begins_anew(work: Make) -> None:
    job = work(PLATE)
    raised(job)
    while job.snapshot.advice.cause != "rising_alone":
        job.readings["liquid_pressure"] += 60.0
        job.run(1)
        assert job.t < 2500.0
    assert job.done().advice.cause == "standing"
    job.until(lambda s: s.advice.cause == "tight", 2400)


def test_a_leak_by_probes_nobody_declared_is_no_certain_one() -> None:
    """As the limits that stand for their accuracy say: the verdict is then not certain."""
    job = Work(undeclared(make_job(PLATE)))
    raised(job)
    start = job.t
    while not job.checks():
        job.readings["liquid_pressure"] = 2.0e6 - 300e3 * (job.t - start) / 3600.0
        job.run(1)
        assert job.t - start < 3000.0
    assert job.checks()[-1].result is CheckResult.FAIL_NOT_CERTAIN


def test_a_coarse_gauge_hides_half_of_its_step() -> None:
    smallest = []
    for step_si in (None, 50e3):
        job = make_job(PLATE)
        sources = tuple(
            replace(
                source,
                probes=tuple(
                    replace(probe, channel=replace(probe.channel, resolution_si=step_si))
                    if probe.channel.role is Role.LIQUID_PRESSURE
                    else probe
                    for probe in source.probes
                ),
            )
            for source in job.sources
        )
        session = Work(undeclared(replace(job, sources=sources)))
        raised(session)
        session.until(lambda s: s.advice.cause == "tight", 20_000)
        smallest.append(session.checks()[-1].figures["smallest_pa_per_h"])
    assert smallest[1] > 1.5 * smallest[0]
