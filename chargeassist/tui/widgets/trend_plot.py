"""The judged value over the last quarter of an hour, with the target band and the steps."""

from typing import Any

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Resize
from textual.geometry import Size
from textual_plotext import PlotextPlot

from chargeassist.model import display
from chargeassist.stream.facts import ChannelState, TargetFacts
from chargeassist.tui.scene import Scene
from chargeassist.tui.trend import WINDOW_S, TrendPoint
from chargeassist.tui.widgets.number_line import CELLS_PER_LABEL, line_scale
from chargeassist.tui.widgets.stage_plot import rgb, signed, stage_plot

REDRAW_S = 1.0
"""One redraw costs about 10 ms; nobody reads a plot faster than this."""


class TrendPlot(Vertical):
    """The plot; redrawn once a second at most, however often it is shown a scene.

    Attributes
    ----------
    redraws : int
        So far.
    """

    def __init__(self, scene: Scene) -> None:
        super().__init__(id="trend")
        self.scene = scene
        self.redraws = 0
        self._plot = PlotextPlot()
        self._drawn: Scene | None = None

    def compose(self) -> ComposeResult:
        """Put in the plot."""
        yield self._plot

    def on_mount(self) -> None:
        """Redraw from the newest scene at a steady, slow rate."""
        self.set_interval(REDRAW_S, self.catch_up)

    def on_resize(self, _event: Resize) -> None:
        """Draw for the new size, whatever the rate."""
        self._draw()

    def show(self, scene: Scene) -> None:
        """Keep the newest history; draw at once only what must not lag behind the board."""
        drawn, self.scene = self._drawn, scene
        if (
            drawn is None
            or drawn.snapshot is None
            or scene.system is not drawn.system
            or scene.pen != drawn.pen
        ):
            self._draw()

    def catch_up(self) -> None:
        """Draw the newest scene, unless that is what stands there."""
        if self.scene is not self._drawn:
            self._draw()

    def _draw(self) -> None:
        width, height = self.content_size
        if not self.display or width < 20 or height < 5:
            return
        self._drawn = self.scene
        self.redraws += 1
        if self.scene.trend.stage.plot is not None:
            stage_plot(self._plot.plt, self.scene, self.content_size)
        else:
            plot(self._plot.plt, self.scene, self.content_size)
        self._plot.refresh()


def plot(plt: Any, scene: Scene, size: Size) -> None:  # noqa: ANN401 - plotext is untyped
    """Draw the history into a plotext figure.

    Parameters
    ----------
    plt : plotext figure
    scene : Scene
    size : Size
        Cells there are; two points go into a cell's width.
    """
    width, height = size
    plt.clear_figure()
    # Minutes before now, so that the newest value stands still at the right.
    unit = display.difference_unit(scene.system)
    name = scene.job.target.judged.name
    how = ", by hand" if scene.trend.by_hand else ""
    plt.title(f"{name}, {unit}, last {WINDOW_S / 60:.0f} min{how}")
    if scene.snapshot is None:
        return
    now = scene.snapshot.t
    per_kelvin = display.difference_value(1.0, scene.system)
    strokes = unbroken(scene.trend.points(2 * width), now, per_kelvin)
    goal = scene.snapshot.facts.goal(scene.job.target)
    band = []
    if isinstance(goal, TargetFacts):
        band = [goal.low_k * per_kelvin, goal.high_k * per_kelvin]
    palette = scene.pen.palette
    for edge in band:
        plt.horizontal_line(edge, color=rgb(palette.band))
    for stroke in strokes:
        times, values = zip(*stroke, strict=True)
        # Quarter blocks: broader strokes than dots, and more terminals have them.
        plt.plot(times, values, marker="hd", color=rgb(palette.ink))
    read = [
        ((point.t - now) / 60.0, point.value_k * per_kelvin)
        for point in scene.trend.by_hand
        if point.value_k is not None
    ]
    if read:
        mark = scene.pen.shape(ChannelState.BY_HAND)
        plt.scatter(*zip(*read, strict=True), marker=mark, color=rgb(palette.ink))
    every = [value for stroke in [*strokes, read] for _, value in stroke]
    scale = line_scale([*every, *band] or [0.0], CELLS_PER_LABEL * max(3, height // 3))
    ticks = scale.ticks()
    plt.ylim(scale.low, scale.high)
    plt.yticks(ticks, [signed(f"{tick:g}") for tick in ticks])
    minutes = WINDOW_S / 60.0
    plt.xlim(-minutes, 0)
    plt.xticks([-minutes, -10, -5, 0], [f"−{minutes:.0f} min", "−10", "−5", "now"])
    for step in scene.snapshot.facts.ledger:
        minute = (step.ended_t - now) / 60.0
        if minute >= -minutes:
            colours = {"color": rgb(palette.mark), "background": rgb(palette.ground)}
            text, place = str(step.number), (minute, scale.high)
            plt.text(text, *place, style="bold", alignment="center", **colours)


def unbroken(points: list[TrendPoint], now: float, scale: float) -> list[list[tuple[float, float]]]:
    """Return strokes of (minutes before now, shown value); a time without signal is a gap."""
    strokes: list[list[tuple[float, float]]] = [[]]
    for point in points:
        if point.value_k is not None:
            strokes[-1].append(((point.t - now) / 60.0, point.value_k * scale))
        elif strokes[-1]:
            strokes.append([])
    return [stroke for stroke in strokes if stroke]
