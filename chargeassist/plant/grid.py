"""Time on a fixed grid: a simulation gives the same result however its time is cut."""

from abc import ABC, abstractmethod


class OnGrid(ABC):
    """Something simulated in steps on a fixed grid; a time in between cuts the step.

    Parameters
    ----------
    grid_s : float
        Longest step [s]; an exact binary fraction, so that whole seconds fall on the grid.

    Attributes
    ----------
    t : float
        Time since the start [s].
    """

    def __init__(self, grid_s: float) -> None:
        self._grid_s = grid_s
        self._steps = 0
        self.t = 0.0

    def step(self, dt_s: float) -> None:
        """Advance by `dt_s` [s]; see `run_until`."""
        self.run_until(self.t + dt_s)

    def run_until(self, t: float) -> None:
        """Advance to time `t` [s]; without effect if that is past.

        Raises
        ------
        PlantLimitError
            A state is outside what the equations hold for.
        """
        while self.t < t:
            next_t = (self._steps + 1) * self._grid_s
            until = min(next_t, t)
            self._advance(until - self.t)
            self.t = until
            if until == next_t:
                self._steps += 1
                self._on_grid()

    @abstractmethod
    def _advance(self, dt_s: float) -> None:
        """Advance by `dt_s` [s], at most a step of the grid."""

    def _on_grid(self) -> None:  # noqa: B027 - most have nothing to do there
        """Do what is done once a whole step, whatever the time was cut into."""
