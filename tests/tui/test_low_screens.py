"""Low and crowded screens: the keys stay in sight, and no number is shown without its unit.

All moments are invented.
"""

import re
from dataclasses import replace

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.stage import PlotKind, StagePlot, StageRow, StageStep
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, MarkKind, Stage
from chargeassist.model.hazards import Hazard
from chargeassist.stream.facts import Measured
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add, moving, simulated, step_open
from chargeassist.tui.widgets.key_bar import KeyBar
from chargeassist.tui.widgets.notices import Notices
from tests.tui.running import Drawn, running, text, typed

RAISED = tuple(
    StageRow(key="raise_step", figures={"pressure_pa": 3e5 * n, "hold_s": 180.0}, state="done")
    for n in range(1, 7)
)


def in_stage(stage: Stage, rows: tuple[StageRow, ...] = RAISED, *, curve: bool = False) -> Snapshot:
    """Return a moment of a stage in which the unit does not run."""
    base = add()
    advice = Advice(
        t=base.t,
        action=Action.ADD,
        cause="weigh_in_to_go",
        figures={"total_kg": 0.0, "target_kg": 2.3},
        mass_kg=2.3,
    )
    plot = StagePlot(kind=PlotKind.RAISE, value=3e5, since_t=base.t - 60.0) if curve else None
    step = StageStep(advice=advice, rows=rows, plot=plot)
    return replace(base, stage=stage, advice=advice, stage_step=step, ahead=None)


SHOTS = {
    "charge": simulated(),
    "charge with a caution": replace(simulated(), unread=(Hazard.ELECTRICITY, Hazard.BURNS)),
    "weigh-in": in_stage(Stage.WEIGH_IN),
    "tightness": in_stage(Stage.TIGHTNESS, curve=True),
}


@pytest.mark.parametrize("name", SHOTS)
@pytest.mark.parametrize("size", [(60, 20), (58, 16), (80, 18), (43, 20), (100, 12)])
async def test_the_keys_are_in_sight_however_low_the_screen(
    name: str, size: tuple[int, int], drawn: Drawn
) -> None:
    session = CannedSession([SHOTS[name]], can_pause=True)
    async with running(session, size=size) as (app, _):
        bar = app.screen.query_one(KeyBar)
        assert bar.region.bottom == size[1]
        assert bar.region.height >= len(bar.render().plain.split("\n"))
        assert app.screen.query_one(Notices).region.bottom <= bar.region.y
        assert "quit" in drawn(app)[-1]


async def test_a_step_of_the_weigh_in_can_be_begun_and_ended_by_touch(drawn: Drawn) -> None:
    shot = in_stage(Stage.WEIGH_IN)
    session = CannedSession([shot])
    async with running(session, size=(110, 40)) as (app, pilot):
        for key, keys in (("a", "step begins"), ("e", "step ends")):
            lines = drawn(app)
            row = next(k for k, line in enumerate(lines) if f" {key}  " in line and keys in line)
            await pilot.click(offset=(lines[row].index(f" {key}  {keys}") + 1, row))
            await pilot.pause()
            if key == "a":
                assert session.marks == [(MarkKind.STEP_BEGUN, None, None, "")]
                facts = replace(shot.facts, step_open=step_open().facts.step_open)
                session.feed(replace(shot, facts=facts))
                app.paint()
                await pilot.pause()
        assert "The charge step ends" in text(drawn(app))
        await typed(pilot, "escape")


async def test_a_test_names_no_key_of_the_charge(drawn: Drawn) -> None:
    async with running(CannedSession([in_stage(Stage.TIGHTNESS)])) as (app, _):
        assert "step begins" not in text(drawn(app))


def reading(value_k: float, witness_k: float) -> Snapshot:
    """Return `moving` with other values, as of an empty circuit."""
    base = moving()
    facts = replace(
        base.facts,
        subcooling=Measured(value_k=value_k, expanded_k=3.3),
        superheat=Measured(value_k=witness_k, expanded_k=3.3),
    )
    return replace(base, facts=facts)


@pytest.mark.parametrize("size", [(80, 24), (90, 30), (120, 40)])
async def test_wide_digits_leave_room_for_unit_and_target(
    size: tuple[int, int], drawn: Drawn
) -> None:
    shot = reading(-74.0, 75.0)
    async with running(CannedSession([shot]), size=size, system=UnitSystem.US) as (app, pilot):
        await pilot.pause()
        app.paint()
        await pilot.pause()
        shown = text(drawn(app))
    assert "subcooling" in shown
    assert shown.count("± 5.9 °F") >= 2
    assert "7.6 to 10.4 °F" in shown
    assert "4.0 to 25.0 °F" in shown


async def test_no_value_on_a_single_line_is_without_unit(drawn: Drawn) -> None:
    for size in ((60, 20), (79, 23), (58, 20)):
        for shot in (moving(), reading(-10.2, 75.0)):
            for system, unit in ((UnitSystem.SI, "K"), (UnitSystem.US, "°F")):
                async with running(CannedSession([shot]), size=size, system=system) as (app, _):
                    line = next(row for row in drawn(app) if "superheat" in row)
                assert re.search(rf"superheat [−-]?[\d.]+ ?(±|{unit})(?!\S)", line), line
                assert re.search(rf"± [\d.]+ {unit} ", line), line


async def test_the_stage_is_said_also_hours_into_a_session(drawn: Drawn) -> None:
    # A pressure test alone takes an hour: by then the clock is two cells longer.
    for size in ((80, 24), (60, 20)):
        base = simulated()
        later = replace(base, t=8126.0, facts=replace(base.facts, t=8126.0))
        async with running(CannedSession([later], can_pause=True), size=size) as (app, _):
            top = drawn(app)[0]
        assert f" {base.stage.value} " in top, top
        assert "Millrace Lane" in top
        assert top.rstrip().endswith("2:15:26")
