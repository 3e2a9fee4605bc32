"""Filter and panels, the hold's ramp, and conditions one goes on without, through the assistant."""

from chargeassist.guide import wording
from chargeassist.guide.conditions import ConditionState
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, CheckResult, MarkKind, Stage
from chargeassist.model.limits import LimitKey
from chargeassist.model.mark_event import WAIVED_BY
from tests.unit.guide.guarded_site import HOLD, Site, job

CONDITIONS = """
[conditions]
filters_panels = "yes"
outdoor_low = "60 °F"
final_hold = "1 min"
source = "installation manual, page 12"
"""


def state_of(shot: Snapshot, key: LimitKey) -> ConditionState:
    return next(item.state for item in shot.conditions if item.limit.key is key)


def test_nothing_is_proposed_until_filter_and_panels_were_seen() -> None:
    site = Site(job(CONDITIONS), looked=False)
    shot = site.run(400)
    assert shot.facts.settled is not None
    assert (shot.advice.action, shot.advice.cause) == (
        Action.FIX_FIRST, "condition_filters_panels",
    )  # fmt: skip
    for system in UnitSystem:
        words = wording.sentence(shot.advice, system)
        assert "is every panel on?" in words
        assert "[installation manual, page 12 (equipment instructions)]" in words
    assert shot.stage is Stage.RUN_UP
    mark = shot.waits_for
    assert mark is not None
    site.mark(mark.kind, text=mark.text)
    shot = site.run(2)
    assert shot.advice.action is Action.ADD
    assert state_of(shot, LimitKey.FILTERS_PANELS) is ConditionState.MET
    assert shot.stage is Stage.CHARGING
    assert shot.waits_for is None


def test_who_goes_on_without_them_gets_no_final_reading() -> None:
    site = Site(job(CONDITIONS), subcooling_k=5.0, looked=False)
    site.run(400)
    why = "filter cannot be reached today, owner told"
    site.mark(MarkKind.CONDITION_WAIVED, text=f"filters_panels{WAIVED_BY}{why}")
    site.mark(MarkKind.CONFIRMED, text="outdoor_low")
    shot = site.run(2)
    assert (shot.advice.action, shot.advice.cause) == (Action.STOP, "inside_conditions_open")
    assert why in shot.advice.subject
    assert state_of(shot, LimitKey.FILTERS_PANELS) is ConditionState.WAIVED
    assert [item.subject for item in shot.cautions if item.cause == "condition_waived"]
    shot = site.run(120)
    final = next(check for check in shot.checks if check.check == "final_reading")
    assert final.result is CheckResult.NOT_JUDGED
    assert why in final.subject


def test_without_a_reason_nothing_is_gone_on_without() -> None:
    site = Site(job(CONDITIONS), looked=False)
    site.run(400)
    site.mark(MarkKind.CONDITION_WAIVED, text="filters_panels")
    site.mark(MarkKind.CONDITION_WAIVED, text=f"filters_panels{WAIVED_BY} ")
    assert site.run(2).advice.cause == "condition_filters_panels"


def test_weather_outside_its_window_blocks_until_gone_on_without() -> None:
    site = Site(job(CONDITIONS.replace("60 °F", "77 °F")), looked=False)
    site.mark(MarkKind.CONFIRMED, text="filters_panels")
    site.run(1)
    site.mark(MarkKind.ENTERED, text="outdoor_air", value_si=297.15)
    shot = site.run(400)
    assert shot.advice.cause == "condition_outdoor_low"
    site.mark(MarkKind.CONDITION_WAIVED, text=f"outdoor_low{WAIVED_BY}maker's hotline agrees")
    shot = site.run(2)
    assert shot.advice.action is Action.ADD
    assert state_of(shot, LimitKey.OUTDOOR_LOW) is ConditionState.WAIVED


def test_a_frequency_cannot_be_gone_on_without() -> None:
    site = Site(job(HOLD))
    site.values[Role.COMPRESSOR_FREQUENCY] = 60.0
    site.run(100)
    site.mark(MarkKind.CONDITION_WAIVED, text=f"frequency_tolerance{WAIVED_BY}no time")
    assert site.run(100).advice.cause == "hold_missing"


RAMP = HOLD + '\n[conditions]\nramp_longest = "3 min"\nhold_warning = "4 min"\nsource = "manual"\n'


def test_ramp_hold_warning_and_end_of_the_test_mode_are_counted_and_said() -> None:
    """3 min of ramp and a mode that ends by itself: equipment manual, variable speed, page 19
    (manualarchiveguide.com, NS22HM); here of 10 min instead of 60."""
    site = Site(job(RAMP))
    site.values[Role.COMPRESSOR_FREQUENCY] = 0.5
    shot = site.run(10)
    for second in range(120):
        site.values[Role.COMPRESSOR_FREQUENCY] = 0.5 + 0.5 * second
        shot = site.run(1)
    assert (shot.advice.action, shot.advice.cause) == (Action.WAIT, "hold_ramps")
    words = wording.sentence(shot.advice, UnitSystem.SI)
    assert "on its way to 72 Hz, now 59.5 Hz: 116 s of at most 3 min" in words
    assert "[manual (equipment instructions)]" in words
    for second in range(62, 130):
        site.values[Role.COMPRESSOR_FREQUENCY] = 60.0 + 1.5 * (second % 2)
        shot = site.run(1)
    assert shot.advice.cause == "hold_ramp_long"
    site.values[Role.COMPRESSOR_FREQUENCY] = 72.0
    shot = site.run(300)
    assert shot.facts.hold.held
    # The mode began with the ramp, about 490 s ago; of its 600 s about 110 are left.
    assert shot.facts.hold.expires_s is not None
    assert 100.0 <= shot.facts.hold.expires_s <= 125.0
    assert "hold_expiring" in {item.cause for item in shot.cautions}


def test_a_confirmed_hold_warns_before_its_end_and_blocks_after_it() -> None:
    site = Site(job(RAMP))
    site.run(2)
    site.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    # 10 min, of which 3 may have passed while nobody looked; the warning comes 4 min before.
    shot = site.run(170)
    assert "hold_expiring" not in {item.cause for item in shot.cautions}
    shot = site.run(20)
    assert "hold_expiring" in {item.cause for item in shot.cautions}
    assert shot.facts.hold.held
    shot = site.run(225)
    assert shot.advice.action is Action.ADD
    shot = site.run(10)
    assert (shot.advice.action, shot.advice.cause) == (Action.FIX_FIRST, "hold_expired")
    assert shot.facts.settled is None
    assert shot.stage in {Stage.RUN_UP, Stage.CHARGING}
