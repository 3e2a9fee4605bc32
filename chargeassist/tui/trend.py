"""The short history the screen keeps for its plot; everything else it draws is in the snapshot."""

from collections import deque
from dataclasses import dataclass

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.stage import StagePlot
from chargeassist.stream.facts import HandFacts, Measured

MOST_POINTS = 1200
"""Of a stage's curve; more than any screen resolves."""

WINDOW_S = 900.0
"""A charge step settles within minutes; a quarter of an hour shows the last two or three."""


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """The judged value, live [K], at session time `t` [s]; None where there was no signal."""

    t: float
    value_k: float | None


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One point of a stage's curve at session time `t` [s], and what is drawn beside it [SI]."""

    t: float
    value: float
    beside: float | None


class StageCurve:
    """The curve of the present stage, whole: an evacuation is seen from its beginning.

    Attributes
    ----------
    plot : StagePlot or None
        The newest point with its lines; None where the stage draws nothing.
    points : list of CurvePoint
    """

    def __init__(self) -> None:
        self.plot: StagePlot | None = None
        self.points: list[CurvePoint] = []
        self._every_s = 0.0

    def add(self, snapshot: Snapshot) -> None:
        """Take in one snapshot; when there are many points, every other one is let go."""
        step = snapshot.stage_step
        plot = None if step is None else step.plot
        before, self.plot = self.plot, plot
        if plot is None:
            self.points, self._every_s = [], 0.0
            return
        if before is None or (before.kind, before.since_t) != (plot.kind, plot.since_t):
            self.points, self._every_s = [], 0.0
        if plot.typed is not None:
            self.points = [CurvePoint(t, value, None) for t, value in plot.typed]
            return
        if self.points and snapshot.t - self.points[-1].t <= self._every_s:
            return
        self.points.append(CurvePoint(snapshot.t, plot.value, plot.beside))
        if len(self.points) > MOST_POINTS:
            self.points = self.points[::2]
            self._every_s = max(2.0 * self._every_s, 1.0)


class Trend:
    """The judged value over the last quarter of an hour of session time."""

    def __init__(self, window_s: float = WINDOW_S) -> None:
        self._window_s = window_s
        self._points: deque[TrendPoint] = deque()
        self._read: deque[TrendPoint] = deque()
        self.stage = StageCurve()

    def add(self, snapshot: Snapshot) -> None:
        """Take in one snapshot; one that is not newer than the last is left out."""
        if self._points and snapshot.t <= self._points[-1].t:
            return
        self.stage.add(snapshot)
        reading = snapshot.facts.reading
        value = reading.value_k if isinstance(reading, Measured) else None
        if snapshot.facts.by_hand is not None:
            self._take_by_hand(snapshot.facts.by_hand, value)
            value = None  # nobody looks between two readings
        self._points.append(TrendPoint(snapshot.t, value))
        while self._points[0].t < snapshot.t - self._window_s:
            self._points.popleft()

    def _take_by_hand(self, hand: HandFacts, value: float | None) -> None:
        if hand.newest_t is None or value is None or hand.begun:
            return
        if self._read and self._read[-1].t == hand.newest_t:
            self._read.pop()  # put right since
        self._read.append(TrendPoint(hand.newest_t, value))

    @property
    def by_hand(self) -> tuple[TrendPoint, ...]:
        """The whole readings by hand of the window, each at the time it was read."""
        if not self._points:
            return ()
        since_t = self._points[-1].t - self._window_s
        while self._read and self._read[0].t < since_t:
            self._read.popleft()
        return tuple(self._read)

    def __len__(self) -> int:
        return len(self._points)

    def points(self, most: int) -> list[TrendPoint]:
        """Return at most `most` points: the newest of each equal part of the window.

        Parameters
        ----------
        most : int
            At least 1; about what the plot can resolve.
        """
        if not self._points:
            return []
        end = self._points[-1].t
        width_s = self._window_s / most
        newest: dict[int, TrendPoint] = {}
        for point in self._points:
            newest[min(int((end - point.t) / width_s), most - 1)] = point
        return [newest[key] for key in sorted(newest, reverse=True)]
