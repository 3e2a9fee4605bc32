"""Static pictures of a report, drawn by matplotlib: the charge, pressures, amps."""

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.limits import Method
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT, PASCAL_PER_PSI
from chargeassist.model.values import NoValue
from chargeassist.qa.extras import extra
from chargeassist.qa.rescore import Rescored, steps_recorded
from chargeassist.stream.facts import Measured, SettleState

if TYPE_CHECKING:
    from matplotlib.axes import Axes

EVERY_S: Final = 2.0
"""Points of a picture are so far apart [s], and farther where there would be too many."""
MOST_POINTS: Final = 1500

BLUE, VERMILION, GREEN, GREY = "#0072B2", "#D55E00", "#009E73", "#666666"
"""Of Okabe and Ito; every line has its own style as well."""

_STYLE: Final[Any] = {"svg.fonttype": "path", "font.size": 9.0, "axes.grid": True}


@dataclass
class Trace:
    """What is drawn, gathered while a session is computed again.

    Attributes
    ----------
    t : list of float
        [s]
    judged, low, high, liquid, suction, amps : list of float
        [K], [K], [K], [Pa], [Pa], [A]; NaN where there is none.
    settled : list of bool
    """

    t: list[float] = field(default_factory=list)
    judged: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    liquid: list[float] = field(default_factory=list)
    suction: list[float] = field(default_factory=list)
    amps: list[float] = field(default_factory=list)
    settled: list[bool] = field(default_factory=list)

    def __call__(self, snapshot: Snapshot) -> None:
        """Take the picture of a moment."""
        facts, target = snapshot.facts, snapshot.job.target
        if self.t and facts.t - self.t[-1] < EVERY_S:
            return
        goal = facts.goal(target)
        value = facts.subcooling if target.method is Method.SUBCOOLING else facts.superheat
        nothing = float("nan")
        self.t.append(facts.t)
        self.judged.append(value.value_k if isinstance(value, Measured) else nothing)
        self.low.append(nothing if isinstance(goal, NoValue) else goal.low_k)
        self.high.append(nothing if isinstance(goal, NoValue) else goal.high_k)
        for role, values in (
            (Role.LIQUID_PRESSURE, self.liquid),
            (Role.SUCTION_PRESSURE, self.suction),
            (Role.COMPRESSOR_CURRENT, self.amps),
        ):
            live = facts.live(role)
            values.append(nothing if live is None else live)
        self.settled.append(facts.settling.state is SettleState.SETTLED)


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
    found = [
        _picture(
            f"{name.capitalize()} against time",
            f"{name.capitalize()} over the session, {steps} charge steps as vertical lines, "
            "settled windows shaded, the target as a band.",
            lambda axes: _charge(axes, session, trace, system),
            form,
        )
    ]
    if any(value == value for value in (*trace.liquid, *trace.suction)):
        found.append(
            _picture(
                "Pressures",
                "Liquid and suction line pressure over the session, gauge.",
                lambda axes: _pressures(axes, trace, system),
                form,
            )
        )
    if any(value == value for value in trace.amps):
        found.append(
            _picture(
                "Compressor amps",
                "Current of the compressor over the session.",
                lambda axes: _amps(axes, session, trace),
                form,
            )
        )
    return found


def _picture(title: str, words: str, draw: "Callable[[Axes], None]", form: str) -> Picture:
    with extra("qa", "the pictures of a report"):
        import matplotlib as mpl
        from matplotlib.figure import Figure
    with mpl.rc_context({**_STYLE, "svg.hashsalt": title}):
        figure = Figure(figsize=(7.2, 3.0), layout="constrained")
        axes = figure.add_subplot()
        axes.grid(visible=True, color="#DDDDDD", linewidth=0.6)
        draw(axes)
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
    axes.plot(minutes, judged, color=BLUE, linewidth=1.2, label=name)
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


def _pressures(axes: "Axes", trace: Trace, system: UnitSystem) -> None:
    us = system is UnitSystem.US
    pascal, unit = (PASCAL_PER_PSI, "psig") if us else (1000.0, "kPa gauge")
    minutes, liquid = _thinned(trace, [v / pascal for v in trace.liquid])
    _, suction = _thinned(trace, [v / pascal for v in trace.suction])
    axes.plot(minutes, liquid, color=VERMILION, linewidth=1.2, label="liquid line")
    axes.plot(minutes, suction, color=BLUE, linewidth=1.2, linestyle="--", label="suction line")
    axes.set_ylabel(unit)
    axes.set_ylim(bottom=0.0)
    axes.legend(loc="best", fontsize=8, framealpha=0.9)


def _amps(axes: "Axes", session: Rescored, trace: Trace) -> None:
    minutes, amps = _thinned(trace, trace.amps)
    axes.plot(minutes, amps, color=BLUE, linewidth=1.2, label="compressor")
    limit = session.job.guards.current_high_a or session.job.plate.rated_load_a
    if limit is not None:
        axes.axhline(limit, color=GREY, linestyle=":", linewidth=1.2, label="limit of the job")
    axes.set_ylabel("A")
    axes.set_ylim(bottom=0.0)
    axes.legend(loc="best", fontsize=8, framealpha=0.9)
