"""The table of a stage on screens of every size. Rows and figures are invented."""

from dataclasses import replace

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.stage import StageRow, StageStep
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, Stage
from chargeassist.stream.facts import Settling
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import moving
from chargeassist.tui.widgets.stage_table import StageTable
from tests.tui.running import Drawn, running, text

ITEMS = tuple(
    StageRow(key="close_out", subject=f"invented item {number}: open", state="open", source="sheet")
    for number in range(1, 41)
)
STANDING = (
    StageRow(key="raise_step", figures={"pressure_pa": 3e5, "hold_s": 180.0}, state="done"),
    StageRow(key="standing_step", figures={"pressure_pa": 3.8e6, "hold_s": 3600.0}, state="now"),
    StageRow(key="test_pressure", figures={"value_pa": 3.789e6}),
    StageRow(
        key="compensated",
        figures={"compensated_pa_abs": 3.888e6, "ideal_check_pa_abs": 3.888e6},
    ),
)


def at(stage: Stage, rows: tuple[StageRow, ...]) -> Snapshot:
    base = moving()
    advice = Advice(t=base.t, action=Action.WAIT, cause="venting")
    step = StageStep(advice=advice, rows=rows)
    facts = replace(base.facts, settling=Settling())
    return replace(base, stage=stage, facts=facts, advice=advice, stage_step=step, ahead=None)


@pytest.mark.parametrize("size", [(43, 60), (80, 24), (112, 36), (200, 50)])
async def test_a_list_without_labels_stands_at_the_edge_and_counts_what_is_left_out(
    drawn: Drawn, size: tuple[int, int]
) -> None:
    session = CannedSession([at(Stage.CLOSE_OUT, ITEMS)])
    async with running(session, size=size) as (app, pilot):
        await pilot.pause()
        lines = drawn(app)
        region = app.screen.query_one(StageTable).region
    shown = lines[region.y : region.bottom]
    assert shown[0].startswith(" ○ invented item 1: open")
    listed = sum("invented item" in line for line in shown)
    assert 0 < listed < len(ITEMS)
    assert shown[-1].strip() == f"{len(ITEMS) - listed} more"
    assert not any("invented item" in line for line in lines[region.bottom :])


async def test_a_list_that_fits_counts_nothing(drawn: Drawn) -> None:
    session = CannedSession([at(Stage.CLOSE_OUT, ITEMS[:5])])
    async with running(session) as (app, pilot):
        await pilot.pause()
        assert " more" not in text([line for line in drawn(app) if "○" in line])
        assert app.screen.query_one(StageTable).region.height == 5


@pytest.mark.parametrize(
    ("size", "row"),
    [
        ((45, 60), " ▶ standing test  3800 kPa gauge for 60 min"),
        ((80, 24), " ▶ standing test              3800 kPa gauge for 60 min"),
    ],
)
async def test_labels_are_whole_and_the_texts_begin_below_each_other(
    drawn: Drawn, size: tuple[int, int], row: str
) -> None:
    session = CannedSession([at(Stage.TIGHTNESS, STANDING)])
    async with running(session, size=size) as (app, pilot):
        await pilot.pause()
        lines = drawn(app)
    assert row in lines
    label = next(k for k, line in enumerate(lines) if "at the start's temperature" in line)
    if size[0] >= 80:
        assert lines[label].index("3888 kPa") == lines[label - 1].index("3789 kPa")
    else:
        assert lines[label + 1].startswith("     3888 kPa absolute"), "below a label too long"


@pytest.mark.parametrize(("stage", "first"), [(Stage.WEIGH_IN, "cylinder scale"), (None, "liquid")])
async def test_the_scale_stands_first_where_it_is_weighed_in(
    drawn: Drawn, stage: Stage | None, first: str
) -> None:
    shot = moving() if stage is None else at(stage, ITEMS)
    async with running(CannedSession([shot]), system=UnitSystem.SI) as (app, pilot):
        await pilot.pause()
        lines = drawn(app)
    channels = [line for line in lines if "kPa gauge" in line or "8.4" in line]
    assert channels[0].strip().startswith(first)
