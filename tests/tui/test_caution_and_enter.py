"""A caution that waits on the board, and what Enter answers meanwhile.

All moments are invented.
"""

from dataclasses import replace

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.caution_words import caution_text
from chargeassist.guide.stages.stage import NextMark, StageStep
from chargeassist.guide.stages.unit_checks import UnitChecks
from chargeassist.model.events import Action, Advice, MarkKind, SessionMode
from chargeassist.model.hazards import Hazard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import checks
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.notices import enter_reads
from tests.tui.running import TALL, Drawn, running, text, typed


def _first_minute(base: Snapshot) -> Snapshot:
    """Return a session in which a caution waits, the filter is asked for, and no step was made."""
    asks = Advice(t=base.t, action=Action.FIX_FIRST, cause="condition_filters_panels")
    return replace(
        base,
        advice=asks,
        next_mark=UnitChecks.next_mark(asks),
        unread=(Hazard.ELECTRICITY, Hazard.PRESSURE),
        facts=replace(base.facts, ledger=()),
    )


async def test_a_caution_leaves_the_four_channels_on_the_usual_terminal(drawn: Drawn) -> None:
    session = CannedSession([_first_minute(checks())])
    async with running(session, size=(80, 24)) as (app, _):
        shown = text(drawn(app))
    # Whole, as it is said everywhere, and what it defers to.
    assert caution_text(Hazard.ELECTRICITY) in shown
    for line in ("liquid line", "suction line"):
        for quantity in ("pressure", "temperature"):
            assert f"{line} {quantity}" in shown, line


async def test_enter_is_offered_for_what_it_answers(drawn: Drawn) -> None:
    # While a caution waits Enter reads it; the question of filter and panels comes after.
    shot = _first_minute(checks())
    session = CannedSession([shot])
    async with running(session, size=TALL) as (app, pilot):
        shown = text(drawn(app))
        assert "; first the caution below" in shown
        assert "press Enter to confirm" not in shown
        await typed(pilot, "enter")
    assert session.marks == [(MarkKind.CAUTION_READ, None, None, "electricity")]
    session = CannedSession([replace(shot, unread=())])
    async with running(session, size=TALL) as (app, _):
        assert "press Enter to confirm" in text(drawn(app))


def test_a_caution_beside_an_instruction_that_has_enter_does_not_offer_it() -> None:
    # In a stage an instruction that ends a hazard goes first: Enter answers that one.
    shot = _first_minute(checks())
    shut = NextMark(kind=MarkKind.CONFIRMED, label="supply shut", text="supply_shut")
    step = StageStep(advice=shot.advice, next_mark=shut)
    scene = Scene(job=shot.job, mode=SessionMode.FIELD, replayed=False)
    assert enter_reads(replace(scene, snapshot=shot))
    assert not enter_reads(replace(scene, snapshot=replace(shot, stage_step=step)))
    read = replace(step, next_mark=NextMark(kind=MarkKind.CAUTION_READ, label="caution read"))
    assert enter_reads(replace(scene, snapshot=replace(shot, stage_step=read)))
