"""The curve of a stage before the charge: nitrogen over time, or a vacuum by decades."""

import math
from typing import Any, Final

from textual.geometry import Size

from chargeassist.guide.stages.stage import PlotKind, StagePlot
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity, find_unit
from chargeassist.stream.facts import ChannelState
from chargeassist.tui.scene import Scene

TITLES: Final = {
    PlotKind.RAISE: ("nitrogen", " as read"),
    PlotKind.STANDING: ("compensated", "; thin: as read"),
    PlotKind.PULL_DOWN: ("pull-down", " by decades"),
    PlotKind.RISE: ("rise test", " by decades"),
}
"""What is drawn, and what is said besides where there is room: plotext drops a title too long."""

TITLES_BY_HAND: Final = {
    PlotKind.RAISE: "nitrogen by hand",
    PlotKind.STANDING: "nitrogen by hand",
    PlotKind.PULL_DOWN: "pull-down by hand",
    PlotKind.RISE: "rise test by hand",
}
"""Where each reading is a mark; a standing pressure is drawn as read."""

_ROOMY: Final = 50

_LOWEST_PA: Final = 0.05
"""Less than any gauge of the trade resolves; a logarithm needs something above zero."""

_SAME: Final = 1.0 + 1e-9

_LINES_NAMED_FROM: Final = 8
"""Fewer rows have no room for the names of the lines."""


def unit_of(kind: PlotKind, system: UnitSystem) -> tuple[str, float]:
    """Return the unit a curve is drawn in, and how many of it a pascal is."""
    us = system is UnitSystem.US
    if kind.vacuum:
        name, shown = ("micron", "micron") if us else ("Pa", "Pa absolute")
    else:
        name, shown = ("psi", "psig") if us else ("kPa", "kPa gauge")
    return shown, 1.0 / find_unit(name, Quantity.PRESSURE).scale


def decade_ticks(low: float, high: float, most: int) -> list[float]:
    """Return round numbers between `low` and `high` for a log scale, at most about `most`.

    Parameters
    ----------
    low, high : float
        Above zero.
    most : int
        Labels there is room for.
    """
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    ticks: list[float] = []
    for steps in ((1.0, 2.0, 5.0), (1.0, 3.0), (1.0,)):
        every = [step * 10.0**decade for decade in decades for step in steps]
        ticks = [each for each in every if low <= each * _SAME and each <= high * _SAME]
        if len(ticks) <= most:
            break
    return ticks[:: math.ceil(len(ticks) / most)] if len(ticks) > most else ticks


def round_ticks(low: float, high: float, most: int) -> list[float]:
    """Return round numbers between `low` and `high`, at most about `most` and at least one."""
    raw = (high - low) / max(most, 1)
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(each * size for each in (1.0, 2.0, 5.0, 10.0) if each * size >= raw)
    first, last = math.ceil(low / step), math.floor(high / step)
    return [round(n * step, 6) for n in range(first, last + 1)] or [0.5 * (low + high)]


def stage_plot(plt: Any, scene: Scene, size: Size) -> None:  # noqa: ANN401 - plotext is untyped
    """Draw the curve of the present stage into a plotext figure.

    Parameters
    ----------
    plt : plotext figure
    scene : Scene
        With a curve.
    size : Size
        Cells there are.
    """
    curve, palette = scene.trend.stage, scene.pen.palette
    newest = curve.plot
    if newest is None or not curve.points:
        return
    unit, per_pa = unit_of(newest.kind, scene.system)
    plt.clear_figure()
    title, besides = TITLES[newest.kind]
    if newest.typed is not None:
        title, besides = TITLES_BY_HAND[newest.kind], ""
    plt.title(f"{title}, {unit}{besides if size.width >= _ROOMY else ''}")

    def level(value_pa: float) -> float:
        if newest.kind.vacuum:
            return math.log10(max(value_pa, _LOWEST_PA) * per_pa)
        return value_pa * per_pa

    minutes = [(point.t - newest.since_t) / 60.0 for point in curve.points]
    beside = [
        (minute, level(point.beside))
        for minute, point in zip(minutes, curve.points, strict=True)
        if point.beside is not None
    ]
    values = [level(point.value) for point in curve.points]
    lines = {name: level(value) for name, value in newest.lines.items()}
    for at in lines.values():
        plt.horizontal_line(at, color=rgb(palette.band))
    if beside:
        plt.plot(*zip(*beside, strict=True), marker="braille", color=rgb(palette.faint))
    if newest.typed is None:
        plt.plot(minutes, values, marker="hd", color=rgb(palette.ink))
    else:  # nobody looked between two readings
        mark = scene.pen.shape(ChannelState.BY_HAND)
        plt.scatter(minutes, values, marker=mark, color=rgb(palette.ink))
    every = [*values, *(value for _, value in beside), *lines.values()]
    _axes(plt, newest, every, size)
    longest = max(minutes[-1], 1.0)
    plt.xlim(0, longest)
    plt.xticks([0.0, longest], ["0", display.duration(60.0 * longest)])
    if size.height >= _LINES_NAMED_FROM:
        _names(plt, scene, lines, longest)


def _axes(plt: Any, newest: StagePlot, values: list[float], size: Size) -> None:  # noqa: ANN401
    rows = max(3, size.height // 2)
    low, high = min(values), max(values)
    if newest.kind.vacuum:
        low, high = low - 0.05, max(high, low + 0.3) + 0.05
        ticks = decade_ticks(10.0**low, 10.0**high, rows)
        plt.ylim(low, high)
        plt.yticks([math.log10(tick) for tick in ticks], [f"{tick:,.10g}" for tick in ticks])
        return
    # At least a part in a thousand: the noise of a gauge is not drawn as if it were a fall.
    spare = max(0.05 * (high - low), 0.0005 * abs(high), 1e-3)
    low, high = low - spare, high + spare
    ticks = round_ticks(low, high, rows)
    plt.ylim(low, high)
    plt.yticks(ticks, [signed(f"{tick:.10g}") for tick in ticks])


def _names(plt: Any, scene: Scene, lines: dict[str, float], longest: float) -> None:  # noqa: ANN401
    palette = scene.pen.palette
    for name, at in lines.items():
        plt.text(
            name,
            longest,
            at,
            alignment="right",
            color=rgb(palette.ink),
            background=rgb(palette.ground),
        )


def signed(number: str) -> str:
    """Return a number with the minus that stands everywhere else on the board."""
    return number.replace("-", "−")


def rgb(colour: str) -> tuple[int, int, int]:
    """Return "#0072B2" as plotext wants it."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
