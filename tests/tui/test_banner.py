"""The instruction in big letters, on screens of every width. The moments are invented."""

from collections import defaultdict
from dataclasses import replace

import pytest

from chargeassist.guide.stages.choice import WORDS
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import STATES, fix, moving, suspect
from chargeassist.tui.widgets.banner import Banner, largest
from chargeassist.tui.widgets.big_text import big, stacked, with_rest_small
from chargeassist.tui.words import briefer, capitals
from tests.tui.running import running

SOME: defaultdict[str, float] = defaultdict(lambda: 1.5e6)


@pytest.mark.parametrize("system", list(UnitSystem))
@pytest.mark.parametrize("cause", sorted(WORDS.headlines))
def test_every_headline_of_a_stage_has_big_letters(cause: str, system: UnitSystem) -> None:
    text = capitals(WORDS.headlines[cause](SOME, "vacuum gauge", system))
    assert big(text, Action.DO.value) is not None, text


@pytest.mark.parametrize(("width", "rows"), [(78, 3), (41, 6)])
@pytest.mark.parametrize("system", list(UnitSystem))
@pytest.mark.parametrize("cause", sorted(WORDS.headlines))
def test_every_headline_of_a_stage_has_room_for_big_letters(
    cause: str, system: UnitSystem, width: int, rows: int
) -> None:
    """On a terminal of 80 by 24, and on a telephone's, where they may take two lines."""
    for pressure_pa in (0.3e6, 1.5e6, 4.15e6):
        figures = SOME | {"pressure_pa": pressure_pa}
        text = capitals(WORDS.headlines[cause](figures, "vacuum gauge", system))
        said = briefer(text)
        assert said[0] == text
        assert any(largest(each, Action.DO.value, width, rows) for each in said), text


def test_a_briefer_headline_keeps_the_pressure_and_its_unit() -> None:
    assert briefer("RAISE TO 4150 kPa GAUGE") == (
        "RAISE TO 4150 kPa GAUGE", "RAISE TO 4150 kPa", "TO 4150 kPa"
    )  # fmt: skip
    assert briefer("STOP") == ("STOP",)


def test_two_lines_are_as_short_as_they_can_be_and_keep_the_shape_where_it_fits() -> None:
    rows = stacked("CHECK PROBE", Action.FIX_FIRST.value, 41)
    first, second = big("CHECK", Action.FIX_FIRST.value), big("PROBE")
    assert rows is not None
    assert first is not None
    assert second is not None
    assert rows[:3] == first
    assert [row.strip() for row in rows[3:]] == [row.strip() for row in second]
    assert rows[3].index(second[0].strip()) == first[0].index(big("CHECK")[0].strip())  # type: ignore[index]
    assert stacked("READ THE GAUGE", Action.DO.value, 41) is not None
    assert stacked("STOP", Action.STOP.value, 41) is None
    assert stacked("LET THE NITROGEN OUT", Action.DO.value, 41) is None


@pytest.mark.parametrize("name", sorted(STATES))
@pytest.mark.parametrize("size", [(41, 4), (41, 12), (40, 24)])
async def test_on_the_smallest_screens_what_is_to_be_done_has_big_letters(
    size: tuple[int, int], name: str
) -> None:
    """Told by colour, shape and a word in letters of three lines: whoever glances at it sees it."""
    async with running(CannedSession([STATES[name]()]), size=size) as (app, _):
        banner = app.screen.query_one(Banner)
        text = banner.render().plain
        width = banner.content_size.width
    rows = text.split("\n")
    assert all(len(row) == width for row in rows)
    letters = [sum(sign in "█▀▄" for sign in row) for row in rows]
    assert sum(count >= 1 for count in letters) >= 3, text


@pytest.mark.parametrize(
    ("text", "width", "large", "beside"),
    [
        ("RECOVER 60 g", 41, "RECOVER", "60 g"),
        ("RECOVER 60 g", 39, "", "RECOVER 60 g"),
        ("CHECK PROBE", 39, "CHECK", "PROBE"),
        ("HOLD 72 Hz", 39, "HOLD", "72 Hz"),
        ("ADD 1 lb 3.5 oz", 39, "ADD 1 lb", "3.5 oz"),
    ],
)
def test_what_has_no_room_for_its_letters_stands_plain_beside_them(
    text: str, width: int, large: str, beside: str
) -> None:
    rows = with_rest_small(text, Action.DO.value, width)
    assert rows is not None
    assert max(map(len, rows)) <= width
    letters = big(large, "" if large else Action.DO.value)
    assert letters is not None
    assert rows[1].endswith(beside)
    assert letters[0].strip() in rows[0]
    assert with_rest_small(text, Action.DO.value, 12) is None


@pytest.mark.parametrize(
    ("size", "cause", "action"),
    [
        ((43, 60), "no_signal", Action.FIX_FIRST),
        ((43, 60), "not_the_cure", Action.FIX_FIRST),
        ((43, 60), "isolate", Action.DO),
        ((43, 60), "step_full", Action.WAIT),
        ((80, 24), "nitrogen_shut", Action.DO),
        ((80, 24), "dry", Action.DO),
        ((80, 24), "nitrogen_raise", Action.DO),
        ((43, 60), "tight", Action.DO),
    ],
)
async def test_the_instruction_is_as_large_as_the_screen_allows(
    size: tuple[int, int], cause: str, action: Action
) -> None:
    base = {"no_signal": fix, "not_the_cure": suspect}.get(cause, moving)()
    figures = dict(base.advice.figures) | {"pressure_pa": 1.5e6}
    if cause == "tight":
        figures["smallest_pa_per_h"] = 5e3
    advice = Advice(t=base.t, action=action, cause=cause, figures=figures)
    async with running(CannedSession([replace(base, advice=advice)]), size=size) as (app, _):
        banner = app.screen.query_one(Banner)
        text = banner.render().plain
        width, height = banner.content_size
    rows = text.split("\n")
    assert len(rows) == height
    assert all(len(row) == width for row in rows)
    assert set(text) <= set(" █▀▄\n"), text
