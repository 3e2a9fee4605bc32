"""The response of the noise filter to every hypothetical transient, and the sums for the posterior.

The columns are m shapes, k creeps, and the candidate onsets of the watch: first a fast response for
each, then one that starts flat. While no candidate is open, their columns are skipped.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_WATCH_RATES: Floats = np.array([-1.0 / 45.0, -1.0 / 40.0])
_STARTS_FLAT: Floats = np.array([0.0, 1.0])
"""Rates [1/s] of the two responses of a candidate onset, and whether each starts flat [-]."""

# numpy converts a plain number to an array at each operation, which costs more than the operation
# on a hundred numbers; a number in an array without dimensions needs no conversion.
_NONE: Final[Floats] = np.array(0.0)
_ONE: Final[Floats] = np.array(1.0)


class Sums(NamedTuple):
    """Information, its product with the readings, and shared information; see `Responses`."""

    gg: Floats
    gy: Floats
    cross: Floats


class _Columns(NamedTuple):
    """Views of the columns in use, and working memory."""

    shown: Floats
    response: tuple[Floats, ...]
    gg: Floats
    gy: Floats
    expected: Floats
    weighted: Floats
    spare: Floats


class Responses:
    """Takes every hypothesis through the noise filter: `expect`, then `take`, at each reading.

    Parameters
    ----------
    shapes, creeps, slots : int
        m, k and the number of candidate onsets, which have two columns each.

    Attributes
    ----------
    response : ndarray, shape (5, m + k + 2 slots)
        States of the noise filter after 1 K of each column [K; drift in K/s].
    gg, gy : ndarray, shape (m + k + 2 slots,)
        Information about the size of each column [1/K^2], and its product with the readings [1/K].
    cross : ndarray, shape (k, m)
        Information that creep and shape share [1/K^2].
    """

    def __init__(self, shapes: int, creeps: int, slots: int) -> None:
        self._m, self._own, self._slots = shapes, shapes + creeps, slots
        columns = self._own + 2 * slots
        self.response = np.zeros((5, columns))
        self.gg, self.gy = np.zeros(columns), np.zeros(columns)
        self.cross = np.zeros((creeps, shapes))
        self._room = np.empty((4, columns))
        self._alone, self._all = self._columns(self._own), self._columns(columns)
        self._number = np.empty(())
        self._slot_t = np.full(2 * slots, np.inf)
        self._slot_trust = np.ones(2 * slots)
        self._slot_rate = np.repeat(_WATCH_RATES, slots)
        self._slot_flat = np.repeat(_STARTS_FLAT, slots)
        self._watching = False

    def _columns(self, count: int) -> _Columns:
        shown, *room = self._room[:, :count]
        response = tuple(self.response[:, :count])
        return _Columns(shown, response, self.gg[:count], self.gy[:count], *room)

    def clear(self) -> None:
        """Forget everything, for another transient."""
        self.response[:] = 0.0
        self.gg[:] = 0.0
        self.gy[:] = 0.0
        self.cross[:] = 0.0
        self._slot_t[:], self._watching = np.inf, False

    def copy(self) -> tuple[Floats, Sums]:
        """Return copies of response and sums, of shapes and creeps only."""
        own = self._own
        sums = Sums(self.gg[:own].copy(), self.gy[:own].copy(), self.cross.copy())
        return self.response[:, :own].copy(), sums

    def put(self, response: Floats, sums: Sums) -> None:
        """Restore a copy."""
        own = self._own
        self.response[:, :own] = response
        self.gg[:own], self.gy[:own], self.cross[:] = sums

    def expect(
        self, t: float, dt: float, left: Floats, moves: tuple[float, float, float], *, swings: bool
    ) -> Floats:
        """Move on by dt to t and return what 1 K of each column adds to the next innovation [-].

        Parameters
        ----------
        t, dt : float
            [s].
        left : ndarray, shape (m + k,)
            Part of each shape and creep still to come at t [-].
        moves : tuple of float
            Memory factor, cosine and sine from `NoiseFilter.predict`.
        swings : bool
            Whether hunting is followed; if not, its two rows stay as they are.
        """
        columns = self._all if self._watching else self._alone
        shown, (level, drift, coloured, here, ahead), _, _, expected, other, spare = columns
        own, number = self._own, self._number
        np.subtract(_ONE, left, out=shown[:own])
        if self._watching:
            self._show_slots(t, shown[own:])
        memory, co, si = moves
        number[()] = dt
        np.multiply(drift, number, out=spare)
        level += spare
        number[()] = memory
        coloured *= number
        np.subtract(shown, level, out=expected)
        expected -= coloured
        if swings:
            number[()] = si
            np.multiply(ahead, number, out=spare)
            np.multiply(here, number, out=other)
            number[()] = co
            here *= number
            here += spare
            ahead *= number
            ahead -= other
            expected -= here
        return expected

    def _show_slots(self, t: float, shown: Floats) -> None:
        """Write the part of each candidate onset that has happened at t [s]."""
        since = self._room[-1, self._own :]
        number = self._number
        number[()] = t
        np.subtract(number, self._slot_t, out=since)
        np.maximum(since, _NONE, out=since)
        since *= self._slot_rate
        left = np.exp(since)
        since *= self._slot_flat
        np.subtract(_ONE, since, out=since)
        left *= since
        np.subtract(_ONE, left, out=shown)

    def take(
        self, gain: list[float], innovation: float, var: float, rest: float, rest_var: float
    ) -> None:
        """Take the reading that `expect` was called for.

        Parameters
        ----------
        gain : list of float
            Gain of the noise filter for each state that is followed.
        innovation, var : float
            Innovation of the filter [K] and its variance [K^2].
        rest, rest_var : float
            The same less the likeliest hypothesis; candidate onsets explain this residual.
        """
        m, own, number = self._m, self._own, self._number
        columns = self._all if self._watching else self._alone
        _, response, gg, gy, expected, weighted, spare = columns
        for row, share in zip(response, gain, strict=False):
            number[()] = share
            np.multiply(expected, number, out=spare)
            row += spare
        number[()] = 1.0 / var
        np.multiply(expected, number, out=weighted)
        of_shapes, shared = expected[:m], spare[:m]
        for row, of_creep in zip(self.cross, weighted[m:own].tolist(), strict=True):
            number[()] = of_creep
            np.multiply(of_shapes, number, out=shared)
            row += shared
        of_slots = weighted[own:]
        if self._watching:
            number[()] = var / rest_var
            of_slots *= number
        expected *= weighted
        gg += expected
        if self._watching:
            number[()] = rest
            of_slots *= number
            weighted = weighted[:own]
        number[()] = innovation
        weighted *= number
        gy += columns.weighted

    def start_slot(self, slot: int, t: float, trust: float) -> None:
        """Start a candidate onset at t [s]; `trust` scales the information of its readings [-]."""
        both = slice(slot, None, self._slots)
        self._slot_t[both], self._slot_trust[both] = t, trust
        columns = slice(self._own + slot, None, self._slots)
        self.response[:, columns] = 0.0
        self.gg[columns] = self.gy[columns] = 0.0
        self._watching = True

    def likeliest_onset(self, size_var: float) -> tuple[float, int]:
        """Return log odds and slot of the likeliest candidate onset.

        Parameters
        ----------
        size_var : float
            Variance of the usual size of such a change [K^2].
        """
        own, number = self._own, self._number
        gg, gy = self.gg[own:] * self._slot_trust, self.gy[own:] * self._slot_trust
        gy *= gy
        number[()] = 1.0 / size_var
        gy /= number + gg
        number[()] = size_var
        gg *= number
        gg += _ONE
        gy -= np.log(gg)
        k = int(gy.argmax())
        return 0.5 * gy.item(k), k % self._slots
