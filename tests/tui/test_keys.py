"""Keys become marks, and no slip of a gloved hand does harm. The session is invented."""

import asyncio
from dataclasses import replace
from typing import Unpack

import pytest
from textual.widgets import Input

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.events import MarkKind
from chargeassist.model.mark_event import MarkDetails
from chargeassist.stream.facts import ChannelState
from chargeassist.tui.app import PAINT_S
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import STATES, add, moving, replay, simulated, step_open
from chargeassist.tui.screens.ask import Ask
from chargeassist.tui.screens.board import Board
from chargeassist.tui.widgets.trend_plot import TrendPlot
from tests.tui.running import Clock, Drawn, running, typed

BEGUN = (MarkKind.STEP_BEGUN, None, None, "")


def no_scale(snapshot: Snapshot) -> Snapshot:
    """Return `snapshot` with a scale that is silent."""
    channels = tuple(
        replace(each, state=ChannelState.NO_SIGNAL, value_si=None)
        if each.channel.name == "cylinder_mass"
        else each
        for each in snapshot.facts.channels
    )
    return replace(snapshot, facts=replace(snapshot.facts, channels=channels))


async def test_a_step_is_begun_once_however_often_the_key_is_hit(drawn: Drawn) -> None:
    session = CannedSession([add()])
    async with running(session) as (app, pilot):
        await typed(pilot, "a", "a", "a")
        assert session.marks == [BEGUN]
        assert any("A charge step is open already" in line for line in drawn(app))


async def test_the_key_is_believed_until_snapshots_disagree() -> None:
    session = CannedSession([add()])
    async with running(session) as (_, pilot):
        await typed(pilot, "a")
        for seconds in (1.0, 20.0):
            session.feed(replace(add(), t=add().t + seconds))
        await typed(pilot, "a")
        assert session.marks == [BEGUN, BEGUN]


@pytest.mark.parametrize(
    ("text", "system", "mass_kg"),
    [
        ("85", UnitSystem.SI, 0.085),
        ("85 g", UnitSystem.US, 0.085),
        ("3 oz", UnitSystem.SI, 3 * 0.028349523125),  # NIST SP 811 B.8: ounce (avoirdupois)
        ("3", UnitSystem.US, 3 * 0.028349523125),
        ("0.11 kg", UnitSystem.SI, 0.11),
        ("?", UnitSystem.SI, None),
        ("", UnitSystem.SI, None),
    ],
)
async def test_the_end_of_a_step_takes_the_amount_as_typed(
    text: str, system: UnitSystem, mass_kg: float | None
) -> None:
    session = CannedSession([step_open()])
    async with running(session, system=system) as (app, pilot):
        await typed(pilot, "e", text=text)
        await typed(pilot, "enter")
        assert isinstance(app.screen, Board)
        [(kind, mass, frequency, note)] = session.marks
        assert (kind, frequency, note) == (MarkKind.STEP_ENDED, None, "")
        assert mass == (None if mass_kg is None else pytest.approx(mass_kg, rel=1e-12))


async def test_an_amount_that_cannot_be_is_refused_with_the_reason(drawn: Drawn) -> None:
    session = CannedSession([no_scale(step_open())])
    async with running(session) as (app, pilot):
        for text, complaint in (
            ("5 f", "'f' is not a unit of mass; known ones are kg, g, lb, oz"),
            ("-40", "what came out is recovered"),
            ("0", "expected more than 0 g"),
            ("3,5 oz", "write a point, not a comma: 3.5 oz"),
            ("", "no scale reads this"),
            ("1.2.3", "expected one number, such as 85 or 85 g, got 1.2.3"),
        ):
            await typed(pilot, "e", text=text)
            await typed(pilot, "enter")
            assert isinstance(app.screen, Ask)
            shown = " ".join(" ".join(drawn(app)).replace("│", " ").split())
            assert complaint in shown
            await typed(pilot, "escape")
            assert isinstance(app.screen, Board)
        assert session.marks == []


async def test_an_amount_larger_than_the_circuit_is_asked_twice(drawn: Drawn) -> None:
    session = CannedSession([step_open()])
    async with running(session) as (app, pilot):
        await typed(pilot, "e", text="85 kg")
        await typed(pilot, "enter")
        assert session.marks == []
        assert any("more than the whole circuit takes" in line for line in drawn(app))
        await typed(pilot, "enter")
        assert session.marks == [(MarkKind.STEP_ENDED, 85.0, None, "")]


async def test_a_second_tap_does_not_become_the_first_letter() -> None:
    session = CannedSession([step_open()])
    async with running(session) as (app, pilot):
        await typed(pilot, "e", "e", "e")
        assert app.screen.query_one(Input).value == ""


async def test_an_end_without_a_beginning_is_not_marked(drawn: Drawn) -> None:
    session = CannedSession([add()])
    async with running(session) as (app, pilot):
        await typed(pilot, "e")
        assert isinstance(app.screen, Board)
        assert any("No charge step is open" in line for line in drawn(app))
        assert session.marks == []


async def test_a_step_without_amount_can_still_be_given_one(drawn: Drawn) -> None:
    base = add()
    first, second = base.facts.ledger
    lacking = replace(base.facts, ledger=(first, replace(second, mass_kg=None)))
    session = CannedSession([replace(base, facts=lacking)])
    async with running(session) as (app, pilot):
        await typed(pilot, "e")
        assert any("Amount of step 2" in line for line in drawn(app))
        await typed(pilot, text="85")
        await typed(pilot, "enter")
        assert session.marks == [(MarkKind.STEP_ENDED, 0.085, None, "")]


async def test_recovered_is_typed_positive_and_marked_negative() -> None:
    session = CannedSession([add()])
    async with running(session) as (_, pilot):
        await typed(pilot, "r", text="40")
        await typed(pilot, "enter")
        ended = (MarkKind.STEP_ENDED, -0.04, None, "")
        assert session.marks == [BEGUN, ended]
    session = CannedSession([step_open()])
    async with running(session) as (_, pilot):
        await typed(pilot, "r", text="40")
        await typed(pilot, "enter")
        assert session.marks == [ended]


async def test_a_recovery_of_an_unknown_amount_can_be_given_one_later(drawn: Drawn) -> None:
    session = CannedSession([add()])
    async with running(session) as (_, pilot):
        await typed(pilot, "r", text="?")
        await typed(pilot, "enter")
        assert session.marks == [BEGUN, (MarkKind.STEP_ENDED, None, None, "recovered")]
    base = add()
    first, second = base.facts.ledger
    lacking = replace(base.facts, ledger=(first, replace(second, mass_kg=None, came_out=True)))
    session = CannedSession([replace(base, facts=lacking)])
    async with running(session) as (app, pilot):
        await typed(pilot, "e")
        assert isinstance(app.screen, Board)
        await typed(pilot, "r")
        assert any("amount of step 2" in line for line in drawn(app))
        await typed(pilot, text="?")
        await typed(pilot, "enter")
        assert session.marks == []
        await typed(pilot, "r", text="40")
        await typed(pilot, "enter")
        assert session.marks == [(MarkKind.STEP_ENDED, -0.04, None, "")]


async def test_a_frequency_may_be_said_to_be_held_since_earlier(drawn: Drawn) -> None:
    session = CannedSession([moving()])
    async with running(session) as (app, pilot):
        await typed(pilot, "f", text="72 Hz, 12 min ago")
        await typed(pilot, "enter")
        assert session.marks == [(MarkKind.FREQUENCY_HELD, None, 72.0, "")]
        assert any("72 Hz recorded, held since 8:03" in line for line in drawn(app))


async def test_the_frequency_is_filled_in_and_another_one_is_said(drawn: Drawn) -> None:
    session = CannedSession([moving()])
    async with running(session) as (app, pilot):
        await typed(pilot, "f")
        assert app.screen.query_one(Input).value == "72"
        await typed(pilot, "enter")
        await typed(pilot, "f", text="68")
        await typed(pilot, "enter")
        assert session.marks == [
            (MarkKind.FREQUENCY_HELD, None, 72.0, ""),
            (MarkKind.FREQUENCY_HELD, None, 68.0, ""),
        ]
        assert any("The job asks for 72 Hz" in line for line in drawn(app))


async def test_a_lost_frequency_is_marked_once_it_is_held() -> None:
    held = CannedSession([moving()])
    async with running(held) as (_, pilot):
        await typed(pilot, "g")
        assert held.marks == [(MarkKind.FREQUENCY_LEFT, None, None, "")]
    base = moving()
    hold = replace(base.facts.hold, held=False)
    lost = CannedSession([replace(base, facts=replace(base.facts, hold=hold))])
    async with running(lost) as (_, pilot):
        await typed(pilot, "g")
        assert lost.marks == []


async def test_a_note_is_made_plain() -> None:
    session = CannedSession([moving()])
    async with running(session) as (app, pilot):
        await typed(pilot, "n", "enter")
        assert isinstance(app.screen, Ask)
        app.screen.query_one(Input).value = "fan [bold]on\u202e low"
        await typed(pilot, "enter")
        assert session.marks == [(MarkKind.NOTE, None, None, "fan [bold]on· low")]


async def test_units_change_and_change_back(drawn: Drawn) -> None:
    async with running(CannedSession([add()])) as (app, pilot):
        assert any("Add 85 g" in line for line in drawn(app))
        await typed(pilot, "u")
        assert any("Add 3.0 oz" in line for line in drawn(app))
        await typed(pilot, "u")
        assert any("Add 85 g" in line for line in drawn(app))


async def test_time_is_held_only_where_it_can_be(drawn: Drawn) -> None:
    live = CannedSession([moving()])
    async with running(live) as (app, pilot):
        await typed(pilot, "space")
        assert not live.paused
        assert any("cannot be paused" in line for line in drawn(app))
        assert not any(" space " in line for line in drawn(app)[-2:])
    session = CannedSession([simulated()], can_pause=True)
    async with running(session) as (app, pilot):
        await typed(pilot, "space")
        assert session.paused
        assert "PAUSED" in drawn(app)[0]
        assert "SIMULATED" in drawn(app)[0]
        assert any(" space  go on" in line for line in drawn(app)[-2:])


async def test_a_replay_takes_no_marks(drawn: Drawn) -> None:
    session = CannedSession([replay()], can_pause=True)
    async with running(session) as (app, pilot):
        await typed(pilot, "a", "e", "r", "f", "g", "n")
        assert isinstance(app.screen, Board)
        assert session.marks == []
        assert any("This is a replay" in line for line in drawn(app))


async def test_help_names_every_key_and_every_state_word(drawn: Drawn) -> None:
    async with running(CannedSession([moving()]), size=(80, 70)) as (app, pilot):
        await typed(pilot, "question_mark")
        text = "\n".join(drawn(app))
        for state in ("settled", "nearly settled", "moving", "no signal", "by hand"):
            assert f"{state} " in text
        for key in ("a", "e", "r", "f", "g", "n", "u", "d", "l", "m", "q"):
            assert f"   {key}  " in text
        assert "   space  " not in text, "nobody holds the time of a live session"
        assert "licensed practice go first" in " ".join(text.replace("│", " ").split())
        await typed(pilot, "escape")
        assert isinstance(app.screen, Board)


class Refusing(CannedSession):
    """A session that takes no marks."""

    def mark(self, kind: MarkKind, **told: Unpack[MarkDetails]) -> None:
        """Refuse."""
        raise ChargeAssistError(f"{kind.value} [b]refused[/b] {told}")


async def test_a_refused_mark_is_said(drawn: Drawn) -> None:
    async with running(Refusing([moving()])) as (app, pilot):
        await typed(pilot, "a")
        assert any("Not recorded: step_begun [b]refused[/b]" in line for line in drawn(app))


async def test_a_burst_is_painted_once() -> None:
    session = CannedSession([moving()])
    async with running(session, size=(120, 40)) as (app, pilot):
        plot = app.screen.query_one(TrendPlot)
        before, drawn_before = app.paints, plot.redraws
        start = asyncio.get_running_loop().time()
        for index in range(100):
            session.feed(replace(moving(), t=2000.0 + index))
            await pilot.pause(0.001)
        app.paint()
        took = asyncio.get_running_loop().time() - start
        # One paint each quarter of a second that the burst took, and one that was asked for.
        assert 1 <= app.paints - before <= took / PAINT_S + 2
        assert plot.redraws - drawn_before <= took + 1
        painted = app.paints
        app.paint()
        assert app.paints == painted


async def test_values_that_stop_coming_are_not_shown_as_fresh(drawn: Drawn) -> None:
    clock = Clock()
    session = CannedSession([moving()])
    async with running(session, clock=clock) as (app, pilot):
        assert "AGO" not in drawn(app)[0]
        clock.now += 12.4
        app.paint()
        await pilot.pause()
        assert "SHOWN 12 s AGO" in drawn(app)[0]
        session.feed(replace(moving(), t=1300.0))
        app.paint()
        await pilot.pause()
        assert "AGO" not in drawn(app)[0]


async def test_a_notice_goes_away(drawn: Drawn) -> None:
    clock = Clock()
    async with running(CannedSession([moving()]), clock=clock) as (app, pilot):
        await typed(pilot, "a")
        assert any("Charge step begun" in line for line in drawn(app))
        clock.now += 10.0
        session_lines = drawn(app)
        app.paint()
        await pilot.pause()
        assert any("Charge step begun" in line for line in session_lines)
        assert not any("Charge step begun" in line for line in drawn(app))


async def test_no_sentence_of_the_screen_says_the_word_nobody_may_say(drawn: Drawn) -> None:
    for name in ("stop", "fix"):
        async with running(CannedSession([STATES[name]()]), size=(80, 52)) as (app, pilot):
            await typed(pilot, "question_mark")
            assert "safe" not in "\n".join(drawn(app)).lower()
