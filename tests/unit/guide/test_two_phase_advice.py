"""A liquid line at saturation: said as that, and stepped by the plate charge, never by less."""

from dataclasses import replace

from chargeassist.guide import wording
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action
from chargeassist.stream.facts import ChargeStep, Facts, SettleState, Settling
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity
from tests.unit.guide.charging_facts import JOB, channel, said, settled


def saturated(facts: Facts) -> Facts:
    return replace(facts, settling=Settling(state=SettleState.TWO_PHASE, cause="two_phase"))


def test_the_instruction_says_that_there_is_no_subcooling_yet() -> None:
    advice = said(saturated(settled(0.2)))
    assert (advice.action, advice.cause) == (Action.ADD, "below_target")
    for system in UnitSystem:
        sentence = wording.sentence(advice, system)
        assert "no subcooling yet (" in sentence
        assert "two-phase at the liquid line" in sentence
        assert "plate charge" in sentence
        assert "at least" in sentence
        assert " settled" not in sentence
    assert "no subcooling yet" not in wording.sentence(said(settled(3.0)), UnitSystem.SI)


def test_a_loose_suction_clamp_comes_before_what_its_superheat_seems_to_say() -> None:
    high = replace(settled(5.0), settled_superheat_k=30.0)
    assert said(high).cause == "not_the_charge"
    loose = ProbeFinding(
        channel=Role.SUCTION_TEMPERATURE.value,
        kind=ProbeTrouble.LOOSE,
        severity=Severity.CAUTION,
        figures={},
        since_t=900.0,
    )
    clamp = channel(Role.SUCTION_TEMPERATURE, 300.0)
    facts = replace(high, findings=(loose,), channels=(*high.channels, clamp))
    advice = said(facts)
    assert (advice.cause, advice.subject) == (
        "probe_trouble",
        f"{Role.SUCTION_TEMPERATURE.label}: {ProbeTrouble.LOOSE.value}",
    )
    # Without a contradiction it stays a caution: subcooling is judged without that clamp.
    assert said(replace(facts, settled_superheat_k=6.0)).action is Action.STOP


def test_a_small_gain_learnt_before_makes_no_step_larger() -> None:
    """After refrigerant was lost the line is at saturation again: what was learnt is no promise."""
    slow = ChargeStep(
        number=1, mass_kg=0.1, begun_t=0.0, ended_t=40.0, measured_by="technician",
        before_k=2.0, after_k=2.5, gain_k_per_kg=5.0, gain_over_kg=0.1,
    )  # fmt: skip
    job = replace(JOB, charge=replace(JOB.charge, step_cap_kg=0.5))
    taught = replace(settled(0.2), ledger=(slow,))
    plain = said(saturated(settled(0.2)), job=job).mass_kg
    after = said(saturated(taught), job=job).mass_kg
    believed = said(taught, job=job).mass_kg
    assert plain is not None
    assert after is not None
    assert believed is not None
    assert after == plain < believed
