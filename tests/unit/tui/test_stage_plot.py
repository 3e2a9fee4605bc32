"""The curve of a stage: what is kept of it, and its axes."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.geometry import Size

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.stage import PlotKind, StagePlot, StageStep
from chargeassist.model.display import UnitSystem
from chargeassist.tui import preview
from chargeassist.tui.pen import DARK, LIGHT, Palette, Pen
from chargeassist.tui.scene import Scene
from chargeassist.tui.trend import MOST_POINTS, StageCurve
from chargeassist.tui.widgets.stage_plot import decade_ticks, round_ticks, stage_plot, unit_of
from tests.unit.tui.contrast import contrast


def shot(t: float, value: float | None, since_t: float = 0.0) -> Snapshot:
    base = preview.moving()
    plot = None
    if value is not None:
        plot = StagePlot(kind=PlotKind.PULL_DOWN, value=value, since_t=since_t)
    return replace(base, t=t, stage_step=StageStep(advice=base.advice, plot=plot))


def test_a_curve_is_kept_whole_and_thinned() -> None:
    curve = StageCurve()
    for t in range(20_000):
        curve.add(shot(float(t), 1000.0 - 0.01 * t))
    assert len(curve.points) <= MOST_POINTS + 1
    assert curve.points[0].t == 0.0
    assert curve.points[-1].t > 19_950.0
    gaps = [b.t - a.t for a, b in zip(curve.points, curve.points[1:], strict=False)]
    assert max(gaps) <= 2.0 * min(gaps) + 1.0


def test_another_curve_begins_afresh_and_none_is_drawn_without_one() -> None:
    curve = StageCurve()
    curve.add(shot(1.0, 900.0))
    curve.add(shot(2.0, 800.0))
    curve.add(shot(3.0, 10.0, since_t=3.0))
    assert [point.value for point in curve.points] == [10.0]
    curve.add(shot(4.0, None))
    assert curve.plot is None
    assert curve.points == []


@given(st.floats(1e-2, 1e5), st.floats(1.05, 1e5), st.integers(2, 20))
def test_decade_ticks_are_round_inside_and_no_more_than_there_is_room_for(
    low: float, times: float, most: int
) -> None:
    high = low * times
    ticks = decade_ticks(low, high, most)
    assert len(ticks) <= most
    assert ticks == sorted(ticks)
    for tick in ticks:
        assert low * (1 - 1e-6) <= tick <= high * (1 + 1e-6)
        first = tick / 10.0 ** math.floor(math.log10(tick) + 1e-9)
        assert min(abs(first - each) for each in (1.0, 2.0, 3.0, 5.0)) < 1e-6


def test_decades_of_an_evacuation() -> None:
    assert decade_ticks(20.0, 2500.0, 20) == [20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0]
    assert decade_ticks(20.0, 2500.0, 3) == [100.0, 1000.0]


@given(st.floats(-1e4, 1e4), st.floats(1e-2, 1e4), st.integers(1, 12))
def test_round_ticks_lie_inside_and_there_is_one(low: float, span: float, most: int) -> None:
    ticks = round_ticks(low, low + span, most)
    assert 1 <= len(ticks) <= most + 1
    assert all(low - 1e-6 <= tick <= low + span + 1e-6 for tick in ticks)


@pytest.mark.parametrize(
    ("kind", "system", "unit", "pascal"),
    [
        (PlotKind.RISE, UnitSystem.US, "micron", 101_325.0 / 760.0 / 1000.0),
        (PlotKind.RISE, UnitSystem.SI, "Pa absolute", 1.0),
        (PlotKind.STANDING, UnitSystem.US, "psig", 6894.757),
        (PlotKind.RAISE, UnitSystem.SI, "kPa gauge", 1000.0),
    ],
)
def test_units_of_the_curve(kind: PlotKind, system: UnitSystem, unit: str, pascal: float) -> None:
    """A micron is a thousandth of a torr, 101325/760 Pa (NIST SP 811, B.8)."""
    name, per_pa = unit_of(kind, system)
    assert name == unit
    assert 1.0 / per_pa == pytest.approx(pascal, rel=1e-6)


def test_readings_by_hand_are_points_and_stay_those_that_were_typed() -> None:
    """What is typed is drawn as marks: time between two readings adds no points."""
    curve = StageCurve()
    for t in range(100, 400):
        shown = shot(float(t), 900.0)
        assert shown.stage_step is not None
        assert shown.stage_step.plot is not None
        read = ((100.0, 950.0), (200.0, 900.0)) if t >= 200 else ((100.0, 950.0),)
        plot = replace(shown.stage_step.plot, typed=read)
        curve.add(replace(shown, stage_step=replace(shown.stage_step, plot=plot)))
        assert [(point.t, point.value) for point in curve.points] == list(read)


@pytest.mark.parametrize("by_hand", [True, False])
def test_a_curve_by_hand_has_marks_and_no_line(*, by_hand: bool) -> None:
    drawn: list[str] = []

    class Figure:
        def __getattr__(self, name: str) -> Callable[..., None]:
            return lambda *_, **__: drawn.append(name)

    shown = shot(10.0, 900.0)
    assert shown.stage_step is not None
    assert shown.stage_step.plot is not None
    if by_hand:
        plot = replace(shown.stage_step.plot, typed=((1.0, 950.0), (9.0, 900.0)))
        shown = replace(shown, stage_step=replace(shown.stage_step, plot=plot))
    scene = Scene(job=shown.job, mode=shown.mode, replayed=False, snapshot=shown)
    scene.trend.add(shown)
    stage_plot(Figure(), scene, Size(60, 12))
    assert ("scatter" in drawn, "plot" in drawn) == (by_hand, not by_hand)


@pytest.mark.parametrize("palette", [DARK, LIGHT])
def test_the_names_of_the_lines_can_be_read(palette: Palette) -> None:
    written: list[tuple[tuple[int, int, int], tuple[int, int, int]]] = []

    class Figure:
        def __getattr__(self, name: str) -> Callable[..., None]:
            return lambda *_, **__: None

        def text(self, *_: object, **style: object) -> None:
            written.append((style["color"], style["background"]))  # type: ignore[arg-type]

    shown = shot(10.0, 900.0)
    assert shown.stage_step is not None
    assert shown.stage_step.plot is not None
    plot = replace(shown.stage_step.plot, lines={"target": 66.7})
    shown = replace(shown, stage_step=replace(shown.stage_step, plot=plot))
    scene = Scene(job=shown.job, mode=shown.mode, replayed=False, snapshot=shown, pen=Pen(palette))
    scene.trend.add(shown)
    stage_plot(Figure(), scene, Size(60, 12))
    ((ink, ground),) = written
    # WCAG 2.1, success criterion 1.4.3.
    assert contrast(f"#{bytes(ink).hex()}", f"#{bytes(ground).hex()}") >= 4.5
