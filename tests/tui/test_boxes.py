"""The boxes over the board: keys in sight and to be touched, nothing beside them, a way back.

All moments are invented.
"""

from dataclasses import replace

import pytest
from textual.containers import VerticalScroll
from textual.widgets import Input

from chargeassist.guide.stages.stage import NextMark, withdraw
from chargeassist.guide.stages.stage import typed as hand_mark
from chargeassist.model.entries import Entry
from chargeassist.model.events import MarkKind
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add, checks, simulated, step_open
from chargeassist.tui.screens.ask import Ask
from chargeassist.tui.screens.board import Board
from tests.tui.running import TALL, Drawn, running, text, typed

BOXES = ("r", "f", "n", "c", "s", "w", "q", "question_mark")


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (100, 30), (140, 40)])
async def test_every_box_leaves_the_instruction_in_sight_and_names_its_way_back(
    size: tuple[int, int], drawn: Drawn
) -> None:
    async with running(CannedSession([simulated()], can_pause=True), size=size) as (app, pilot):
        before = drawn(app)
        for key in BOXES:
            await typed(pilot, key)
            lines = drawn(app)
            assert lines[:4] == before[:4], key
            assert " Esc  " in lines[-1], (key, lines[-1])
            edge = next(k for k, line in enumerate(lines) if line.startswith("╭"))
            for line in lines[edge:]:  # as wide as the screen: no half words beside it
                assert line[0] in "╭│╰", (key, line)
                assert len(line) == size[0], (key, line)
            await typed(pilot, "escape")
            assert isinstance(app.screen, Board), key


async def test_a_box_longer_than_the_screen_says_how_it_is_scrolled(drawn: Drawn) -> None:
    async with running(CannedSession([add()])) as (app, pilot):
        await typed(pilot, "question_mark")
        last = drawn(app)[-1]
        box = app.screen.query_one("#box", VerticalScroll)
        assert box.scroll_y == 0
        await pilot.click(offset=(last.index("↓"), 23))
        await pilot.pause()
        assert box.scroll_y > 0
        await pilot.click(offset=(last.index("Esc"), 23))
        await pilot.pause()
        assert isinstance(app.screen, Board)


async def test_a_question_is_answered_without_a_keyboard_for_enter_and_escape(drawn: Drawn) -> None:
    session = CannedSession([step_open()])
    async with running(session) as (app, pilot):
        await typed(pilot, "e", "8", "5")
        last = drawn(app)[-1]
        await pilot.click(offset=(last.index("Enter"), 23))
        await pilot.pause()
        assert [mark[1] for mark in session.marks] == [0.085]
        await typed(pilot, "r")
        await pilot.click(offset=(drawn(app)[-1].index("Esc"), 23))
        await pilot.pause()
        assert isinstance(app.screen, Board)
        assert len(session.marks) == 1


async def test_what_was_typed_stays_where_it_is_refused(drawn: Drawn) -> None:
    async with running(CannedSession([add()])) as (app, pilot):
        await typed(pilot, "r", "3", "space", "s", "t", "enter")
        assert isinstance(app.screen, Ask)
        shown = text(drawn(app))
        assert "3 st" in shown
        assert "!" in shown.partition("3 st")[2]
        assert "kg" in shown.partition("!")[2], "says what it expects"


async def test_a_choice_is_touched(drawn: Drawn) -> None:
    async with running(CannedSession([add()])) as (app, pilot):
        await typed(pilot, "q")
        lines = drawn(app)
        row = next(k for k, line in enumerate(lines) if "go on" in line)
        await pilot.click(offset=(lines[row].index("go on"), row))
        await pilot.pause()
        assert isinstance(app.screen, Board)


async def test_what_can_be_picked_is_said_above_a_list_longer_than_the_box(drawn: Drawn) -> None:
    async with running(CannedSession([checks()])) as (app, pilot):
        await typed(pilot, "c")
        assert "picks what you have checked" in text(drawn(app))


async def test_a_letter_where_a_number_comes_first_is_answered(drawn: Drawn) -> None:
    async with running(CannedSession([add()])) as (app, pilot):
        await typed(pilot, "r", text="two")
        assert app.screen.query_one(Input).value == ""
        assert "Type the number first, then its unit" in text(drawn(app))
        await typed(pilot, text="2 oz")
        assert app.screen.query_one(Input).value == "2 oz"
        assert "Type the number first" not in text(drawn(app))


async def test_what_can_be_told_is_named_alike_whether_it_is_asked_for_now_or_not(
    drawn: Drawn,
) -> None:
    told = (
        hand_mark(Entry.LIQUID_PIPE),
        NextMark(kind=MarkKind.ENTERED, label=Entry.OUTDOOR_AIR.label, entry=Entry.OUTDOOR_AIR),
        withdraw(Entry.LIQUID_PIPE),
    )
    async with running(CannedSession([replace(add(), tellable=told)])) as (app, pilot):
        await typed(pilot, "o")
        shown = text(drawn(app))
        assert f" 1 {Entry.LIQUID_PIPE.label} 2 {Entry.OUTDOOR_AIR.label}" in shown
        assert "type:" not in shown
        assert "withdraw the last liquid pipe typed" in shown


async def test_the_stages_name_in_plain_words_what_they_would_be_judged_better_with(
    drawn: Drawn,
) -> None:
    async with running(CannedSession([simulated()], can_pause=True), size=TALL) as (app, pilot):
        await typed(pilot, "s")
        shown = text(drawn(app))
        assert "the least outdoor temperature the test is good for" in shown
        assert "outdoor low" not in shown
        assert "the condition" not in shown


async def test_the_plot_has_the_minus_of_the_line(drawn: Drawn) -> None:
    async with running(CannedSession([add()]), size=(120, 40)) as (app, _):
        plot = "\n".join(drawn(app))
        assert "−15 min" in plot
        assert "-15 min" not in plot
        assert " -10 " not in plot
