"""What goes on while a key is pressed twice or a box is open: nothing old is taken for new.

All moments are invented.
"""

from dataclasses import replace

import pytest

from chargeassist.guide.conditions import Condition, ConditionState
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import MarkKind, Outcome
from chargeassist.model.hazards import Hazard
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add, checks, step_open
from chargeassist.tui.preview_findings import RETURN
from chargeassist.tui.screens.checks import Checks
from tests.tui.running import TALL, Drawn, closed, running, text, typed

READ_FIRST = (MarkKind.CAUTION_READ, None, None, "electricity")


def cautioned(*hazards: Hazard, seconds: float = 0.0) -> Snapshot:
    base = add()
    return replace(base, t=base.t + seconds, unread=hazards)


async def fed(app: Dashboard, session: CannedSession, snapshot: Snapshot) -> None:
    """Show a newer moment."""
    session.feed(snapshot)
    app.paint()


async def test_a_second_tap_acknowledges_no_caution_that_has_not_been_shown(drawn: Drawn) -> None:
    session = CannedSession([cautioned(Hazard.ELECTRICITY, Hazard.PRESSURE)])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "enter", "enter")
        assert session.marks == [READ_FIRST]
        assert "your last answer is being taken in" in text(drawn(app))
        await fed(app, session, cautioned(Hazard.PRESSURE, seconds=1.0))
        await typed(pilot, "enter")
        assert session.marks[1:] == [(MarkKind.CAUTION_READ, None, None, "pressure")]


async def test_a_caution_that_comes_again_is_to_be_read_again(drawn: Drawn) -> None:
    session = CannedSession([cautioned(Hazard.ELECTRICITY)])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "enter")
        await fed(app, session, cautioned(seconds=1.0))
        await fed(app, session, cautioned(Hazard.ELECTRICITY, seconds=600.0))
        await typed(pilot, "a")
        assert "First read the caution" in text(drawn(app))
        await typed(pilot, "enter")
    assert session.marks == [READ_FIRST, READ_FIRST]


def with_return_air(state: ConditionState) -> Snapshot:
    """Return `checks` with one condition only, return air, which a probe may have come to read."""
    value_si = None if state is ConditionState.UNKNOWN else KELVIN_AT_0_C + 12.0
    condition = Condition(limit=RETURN, state=state, value_si=value_si)
    base = checks()
    return replace(base, conditions=(condition,), facts=replace(base.facts, findings=()))


async def test_what_is_measured_meanwhile_is_not_confirmed_by_other_means(drawn: Drawn) -> None:
    assert RETURN.key is LimitKey.INDOOR_LOW
    session = CannedSession([with_return_air(ConditionState.UNKNOWN)])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c", "1")
        assert "You have checked by other means: return air" in text(drawn(app))
        await fed(app, session, with_return_air(ConditionState.UNMET))
        await typed(pilot, "enter")
        assert isinstance(app.screen, Checks)
        assert session.marks == []
        assert "checked by other means" not in text(drawn(app))


async def test_the_box_before_the_end_follows_the_step(drawn: Drawn) -> None:
    session = CannedSession([add()])
    async with running(session) as (app, pilot):
        await typed(pilot, "q")
        assert "A charge step is still open" not in text(drawn(app))
        await fed(app, session, step_open())
        await pilot.pause()
        assert "A charge step is still open" in text(drawn(app))
        await fed(app, session, add())
        await pilot.pause()
        shown = text(drawn(app))
        assert "A charge step is still open" not in shown
        assert "Last instruction: Add 85 g" in shown


@pytest.mark.parametrize(("key", "words"), [("n", "valve cap was loose"), ("r", "85 g")])
async def test_what_was_typed_is_not_dropped_without_a_word(
    key: str, words: str, drawn: Drawn
) -> None:
    session = CannedSession([add()])
    async with running(session) as (app, pilot):
        await typed(pilot, key, text=words)
        await session.stop(Outcome.COMPLETE)
        await pilot.pause()
        await typed(pilot, "enter")
        app.paint()
        assert session.marks == []
        assert "nothing more is recorded" in text(drawn(app))


async def test_a_session_that_has_ended_is_not_asked_about_any_more(drawn: Drawn) -> None:
    session = CannedSession([add()])
    async with running(session) as (app, pilot):
        await typed(pilot, "q")
        await session.stop(Outcome.COMPLETE)
        await pilot.pause()
        assert "End this session?" not in text(drawn(app))
        await typed(pilot, "q")
        await closed(app)


async def test_a_box_that_a_smaller_screen_cuts_names_the_keys_that_scroll(drawn: Drawn) -> None:
    async with running(CannedSession([checks()]), size=(120, 60)) as (app, pilot):
        await typed(pilot, "c")
        assert "↓" not in drawn(app)[-1]
        await pilot.resize_terminal(60, 16)
        await pilot.pause()
        await pilot.pause()
        assert "↓" in drawn(app)[-1]


@pytest.mark.parametrize("key", ["c", "s"])
async def test_a_recording_offers_nothing_that_it_would_not_take(key: str, drawn: Drawn) -> None:
    recorded = replace(checks(), replayed=True)
    for shot, offers in ((checks(), True), (recorded, False)):
        async with running(CannedSession([shot]), size=TALL) as (app, pilot):
            await typed(pilot, key)
            shown = text(drawn(app))
        assert ("picks what you have checked" in shown or "a number begins one" in shown) is offers
