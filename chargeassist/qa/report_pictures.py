"""Static pictures of a report, drawn by matplotlib: the charge, pressures, vacuum, amps."""

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT, PASCAL_PER_MICRON, PASCAL_PER_PSI
from chargeassist.qa.extras import extra
from chargeassist.qa.report_trace import NOTHING, Points, Trace, typed_points
from chargeassist.qa.rescore import Rescored, steps_recorded

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_POINTS: Final = 1500
"""Of a line."""

BLUE, VERMILION, GREEN, GREY = "#0072B2", "#D55E00", "#009E73", "#666666"
"""Of Okabe and Ito; every line has its own style as well."""

_STYLE: Final[Any] = {"svg.fonttype": "path", "font.size": 9.0, "axes.grid": True}


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with the words that stand for it."""

    title: str
    words: str
    data: bytes


def pictures(session: Rescored, trace: Trace, system: UnitSystem, form: str) -> list[Picture]:
    """Return the pictures of a session as "svg" or "png"; the same each time.

    Raises
    ------
    ConfigError
        If matplotlib is not installed.
    """
    name = session.job.target.judged.name
    steps = len(steps_recorded(session))
    drawn = (
        "1 charge step as a vertical line"
        if steps == 1
        else f"{steps} charge steps as vertical lines"
    )
    found = [
        _picture(
            f"{name.capitalize()} against time",
            f"{name.capitalize()} over the session, {drawn}, settled windows shaded, the target as "
            "a band"
            f"{'; what was read by hand and typed as marks' if trace.by_hand else ''}.",
            lambda axes: _charge(axes, session, trace, system),
            trace,
            form,
        )
    ]
    typed = {entry: typed_points(session.marks, entry) for entry in _TYPED}
    pressures = [typed[entry] for entry in _TYPED_PRESSURES]
    if _known(trace.liquid, trace.suction, *(values for _, values in pressures)):
        found.append(
            _picture(
                "Pressures",
                f"Liquid and suction line pressure over the session, gauge{_by_hand(*pressures)}.",
                lambda axes: _pressures(axes, trace, typed, system),
                trace,
                form,
            )
        )
    if _known(trace.vacuum, typed[Entry.VACUUM][1]):
        found.append(
            _picture(
                "Vacuum",
                f"Absolute pressure under vacuum, by decades{_by_hand(typed[Entry.VACUUM])}.",
                lambda axes: _vacuum(axes, trace, typed[Entry.VACUUM], system),
                trace,
                form,
            )
        )
    if _known(trace.amps, typed[Entry.CURRENT][1]):
        found.append(
            _picture(
                "Compressor amps",
                f"Current of the compressor over the session{_by_hand(typed[Entry.CURRENT])}.",
                lambda axes: _amps(axes, session, trace, typed[Entry.CURRENT]),
                trace,
                form,
            )
        )
    return found


_TYPED_PRESSURES: Final = (Entry.LIQUID_PRESSURE, Entry.SUCTION_PRESSURE, Entry.TEST_PRESSURE)
_TYPED: Final = (*_TYPED_PRESSURES, Entry.VACUUM, Entry.CURRENT)


def _known(*series: list[float]) -> bool:
    return any(value == value for values in series for value in values)


def _by_hand(*typed: Points) -> str:
    """Return what the caption says of points; nothing where probes saw all."""
    return "; what was read by hand and typed as marks" if any(t for t, _ in typed) else ""


def _picture(
    title: str, words: str, draw: "Callable[[Axes], None]", trace: Trace, form: str
) -> Picture:
    with extra("qa", "the pictures of a report"):
        import matplotlib as mpl
        from matplotlib.figure import Figure
    with mpl.rc_context({**_STYLE, "svg.hashsalt": title}):
        figure = Figure(figsize=(7.2, 3.0), layout="constrained")
        axes = figure.add_subplot()
        axes.grid(visible=True, color="#DDDDDD", linewidth=0.6)
        draw(axes)
        axes.set_xlim(0.0, max(trace.t[-1] if trace.t else 0.0, 1.0) / 60.0)
        axes.set_xlabel("minutes")
        data = io.BytesIO()
        metadata: Any = {"Date": None} if form == "svg" else {"Software": None}
        figure.savefig(data, format=form, dpi=200, metadata=metadata)
    return Picture(title, words, data.getvalue())


def _thinned(trace: Trace, values: list[float]) -> tuple[list[float], list[float]]:
    every = max(1, len(trace.t) // MOST_POINTS)
    return [t / 60.0 for t in trace.t[::every]], values[::every]


def _charge(axes: "Axes", session: Rescored, trace: Trace, system: UnitSystem) -> None:
    us = system is UnitSystem.US
    kelvin, degree = (KELVIN_PER_FAHRENHEIT, "°F") if us else (1.0, "K")
    minutes, low = _thinned(trace, [v / kelvin for v in trace.low])
    _, high = _thinned(trace, [v / kelvin for v in trace.high])
    axes.fill_between(minutes, low, high, color=GREEN, alpha=0.18, linewidth=0, label="target band")
    first = True
    for begun, ended in _runs(trace):
        axes.axvspan(
            *(begun / 60.0, ended / 60.0),
            color=GREY,
            alpha=0.13,
            linewidth=0,
            label="settled" if first else None,
        )
        first = False
    for number, step in enumerate(steps_recorded(session)):
        axes.axvline(
            step.ended_t / 60.0,
            color=VERMILION,
            linestyle="--",
            linewidth=1.0,
            label="charge step" if number == 0 else None,
        )
        axes.annotate(
            str(step.number),
            (step.ended_t / 60.0, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(2, -9),
            textcoords="offset points",
            color=VERMILION,
        )
    minutes, judged = _thinned(trace, [v / kelvin for v in trace.judged])
    name = session.job.target.judged.name
    if _known(judged):
        axes.plot(minutes, judged, color=BLUE, linewidth=1.2, label=name)
    typed = [t for t, _ in trace.by_hand], [value for _, value in trace.by_hand]
    _marks(axes, typed, kelvin, BLUE, "s", name)
    axes.set_ylabel(f"{name}, {degree}")
    axes.legend(loc="best", fontsize=8, framealpha=0.9)


def _runs(trace: Trace) -> list[tuple[float, float]]:
    """Return (begin, end) of each stretch in which the reading counted as settled [s]."""
    found: list[tuple[float, float]] = []
    begun: float | None = None
    for (t, now), (_, following) in pairwise(
        [*zip(trace.t, trace.settled, strict=True), (0.0, False)]
    ):
        if now and begun is None:
            begun = t
        if begun is not None and not following:
            found.append((begun, t))
            begun = None
    return found


def _marks(
    axes: "Axes", points: Points, unit_si: float, colour: str, shape: str, what: str
) -> None:
    """Draw what was typed as marks without a line between them."""
    times, values = points
    if times:
        axes.plot(
            [t / 60.0 for t in times],
            [value / unit_si for value in values],
            color=colour,
            linestyle="none",
            marker=shape,
            markersize=4.5,
            markerfacecolor="white",
            label=f"{what}, typed",
        )


def _pressures(
    axes: "Axes", trace: Trace, typed: Mapping[Entry, Points], system: UnitSystem
) -> None:
    us = system is UnitSystem.US
    pascal, unit = (PASCAL_PER_PSI, "psig") if us else (1000.0, "kPa gauge")
    minutes, liquid = _thinned(trace, [v / pascal for v in trace.liquid])
    _, suction = _thinned(trace, [v / pascal for v in trace.suction])
    if _known(liquid):
        axes.plot(minutes, liquid, color=VERMILION, linewidth=1.2, label="liquid line")
    if _known(suction):
        axes.plot(minutes, suction, color=BLUE, linewidth=1.2, linestyle="--", label="suction line")
    _marks(axes, typed[Entry.LIQUID_PRESSURE], pascal, VERMILION, "s", "liquid line")
    _marks(axes, typed[Entry.SUCTION_PRESSURE], pascal, BLUE, "o", "suction line")
    _marks(axes, typed[Entry.TEST_PRESSURE], pascal, GREEN, "D", "nitrogen")
    axes.set_ylabel(unit)
    _down_to_zero(axes)
    axes.legend(loc="best", fontsize=8, framealpha=0.9)


def _down_to_zero(axes: "Axes") -> None:
    """Let the scale of gauge pressures have its zero, and all that lies below the atmosphere."""
    if axes.dataLim.ymin >= 0.0:
        axes.set_ylim(bottom=0.0)
    else:
        axes.set_ylim(top=max(0.0, axes.get_ylim()[1]))


def _vacuum(axes: "Axes", trace: Trace, typed: Points, system: UnitSystem) -> None:
    us = system is UnitSystem.US
    pascal, unit = (PASCAL_PER_MICRON, "micron") if us else (1.0, "Pa absolute")
    # A gauge that goes over its end, or through zero, has no place on a scale of decades.
    minutes, values = _thinned(trace, [v / pascal if v > 0.0 else NOTHING for v in trace.vacuum])
    if _known(values):
        axes.plot(minutes, values, color=BLUE, linewidth=1.2, label="vacuum")
    _marks(axes, typed, pascal, BLUE, "s", "vacuum")
    axes.set_yscale("log")
    axes.yaxis.set_major_formatter("{x:,g}")
    axes.set_ylabel(unit)
    axes.legend(loc="best", fontsize=8, framealpha=0.9)


def _amps(axes: "Axes", session: Rescored, trace: Trace, typed: Points) -> None:
    minutes, amps = _thinned(trace, trace.amps)
    if _known(amps):
        axes.plot(minutes, amps, color=BLUE, linewidth=1.2, label="compressor")
    _marks(axes, typed, 1.0, BLUE, "s", "compressor")
    limit = session.job.guards.current_high_a or session.job.plate.rated_load_a
    if limit is not None:
        axes.axhline(limit, color=GREY, linestyle=":", linewidth=1.2, label="limit of the job")
    axes.set_ylabel("A")
    # A steady current is a line inside the picture, not on its edge.
    axes.set_ylim(0.0, 1.15 * max(axes.get_ylim()[1], 0.1))
    axes.legend(loc="best", fontsize=8, framealpha=0.9)
