"""The plant's dynamics, learnt from earlier steps of the same job."""

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_shapes import ShapeBank, shape_bank

Floats = NDArray[np.float64]

_KERNEL_WIDTH = 0.05
_COMPARED_S = 400


@lru_cache(maxsize=1)
def _kernel() -> Floats:
    """Return how belief spreads from a shape to similar ones, shape (m, m); columns sum to 1."""
    bank = shape_bank()
    g = bank.remaining[:_COMPARED_S:4, : bank.size_factor.size]
    m = g.shape[1]
    distance2 = np.empty((m, m))
    for k in range(m):
        gap = g - g[:, k : k + 1]
        distance2[:, k] = (gap * gap).mean(axis=0)
    near = np.exp(-0.5 * distance2 / _KERNEL_WIDTH**2)
    spread: Floats = near / near.sum(axis=0, keepdims=True)
    return spread


class PlantMemory:
    """Belief about the shape of this plant's transients, and about whether its steps are alike.

    The prior for the next step is a mixture of the plant's own shapes and the general prior. The
    share of the plant's shapes grows only while steps are alike, so a plant whose steps differ
    loses no more than a factor in the prior.

    Parameters
    ----------
    share : float
        Prior probability that two steps of one job follow the same shape [-]; 0 disables learning.
    forget : float
        Share of the belief that returns to the general prior at each step [-].

    Attributes
    ----------
    share : float
        Present probability that the next step follows the plant's shapes [-].
    steps : int
        Steps learnt from.
    """

    def __init__(self, *, share: float, forget: float = 0.1) -> None:
        self.shapes: ShapeBank = shape_bank()
        prior = np.exp(self.shapes.log_prior)
        self._quiet = np.broadcast_to(self.shapes.size_factor < 1.0, prior.shape)
        general = np.where(self._quiet, 0.0, prior)
        self._quiet_part = np.where(self._quiet, prior, 0.0)
        self._active = float(general.sum())
        self._general: Floats = general / self._active
        self._plant: Floats = self._general.copy()
        self._first_share = share
        self._forget = forget
        self.share = share
        self.steps = 0

    def learn(self, evidence_log: Floats) -> None:
        """Learn from the log evidence of each hypothesis in a finished step, shape (k + 1, m)."""
        if self._first_share <= 0.0:
            return
        top = float(np.where(self._quiet, -np.inf, evidence_log).max())
        likely = np.where(self._quiet, 0.0, np.exp(np.minimum(evidence_log - top, 0.0)))
        by_plant = float((self._plant * likely).sum())
        by_general = float((self._general * likely).sum())
        if self.steps:
            odds = self.share * by_plant
            share = odds / max(odds + (1.0 - self.share) * by_general, 1e-300)
            share += self._forget * (self._first_share - share)
            self.share = min(max(share, 0.02), 0.97)
        posterior = self._plant * likely
        total = float(posterior.sum())
        if total < 1e-12:
            posterior, total = self._general * likely, by_general
        posterior = posterior / total
        posterior = (_kernel()[None] * posterior[:, None, :]).sum(axis=2)
        self._plant = (1.0 - self._forget) * posterior + self._forget * self._general
        self._plant = np.where(self._quiet, 0.0, self._plant)
        self._plant /= float(self._plant.sum())
        self.steps += 1

    def log_prior(self, *, start: bool = False) -> Floats:
        """Return the log prior for the next step, shape (k + 1, m).

        ``start`` says that it is a start or a change of frequency, after which creeps are likelier.
        """
        share = self.share if self.steps else 0.0
        active = self._active * ((1.0 - share) * self._general + share * self._plant)
        prior: Floats = np.log(active + self._quiet_part)
        if start:
            prior += shape_bank(start=True).log_prior - self.shapes.log_prior
        return prior

    def time_scale_s(self) -> float | None:
        """Return the plant's typical slowest time constant [s]; None before the first step."""
        if not self.steps:
            return None
        mean = float((self._plant * np.log(self.shapes.time_scale_s)).sum())
        return math.exp(mean)
