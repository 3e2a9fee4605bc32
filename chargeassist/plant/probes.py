"""Probes of the simulated plant: lag, noise and resolution, by role; pure and seeded.

The magnitudes are assumptions typical of good field probes, not figures of any maker.
"""

import math
import random
from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.units import PASCAL_PER_MICRON, PASCAL_PER_PSI


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeModel:
    """How a probe follows what it measures.

    Attributes
    ----------
    lag_s : float
        Time constant of its first-order answer [s]; 0 answers at once.
    noise_si : float
        Standard deviation of white noise, in the SI unit of the role.
    drift_si, drift_lag_s : float
        Standard deviation and correlation time of coloured noise [SI], [s].
    resolution_si : float
        Smallest step; 0 for none.
    """

    lag_s: float = 0.0
    noise_si: float = 0.0
    drift_si: float = 0.0
    drift_lag_s: float = 15.0
    resolution_si: float = 0.0


_TENTH_PSI = 0.1 * PASCAL_PER_PSI
_TENTH_FAHRENHEIT = 1.0 / 18.0
"""What the display steps by [Pa], [K]."""

_LIQUID_PRESSURE = ProbeModel(lag_s=0.6, noise_si=1700.0, drift_si=600.0, resolution_si=_TENTH_PSI)
_SUCTION_PRESSURE = ProbeModel(lag_s=0.6, noise_si=800.0, drift_si=300.0, resolution_si=_TENTH_PSI)
_AIR = ProbeModel(lag_s=22.0, noise_si=0.03, drift_si=0.02, resolution_si=_TENTH_FAHRENHEIT)

PROBE_MODELS: Final = {
    Role.LIQUID_PRESSURE: _LIQUID_PRESSURE,
    Role.SUCTION_PRESSURE: _SUCTION_PRESSURE,
    Role.LIQUID_TEMPERATURE: ProbeModel(
        lag_s=8.0, noise_si=0.028, drift_si=0.015, resolution_si=_TENTH_FAHRENHEIT
    ),
    Role.SUCTION_TEMPERATURE: ProbeModel(
        lag_s=10.0, noise_si=0.028, drift_si=0.015, resolution_si=_TENTH_FAHRENHEIT
    ),
    Role.DISCHARGE_TEMPERATURE: ProbeModel(
        lag_s=15.0, noise_si=0.05, drift_si=0.03, resolution_si=_TENTH_FAHRENHEIT
    ),
    Role.OUTDOOR_AIR_TEMPERATURE: _AIR,
    Role.RETURN_AIR_TEMPERATURE: _AIR,
    Role.SUPPLY_AIR_TEMPERATURE: _AIR,
    Role.COMPRESSOR_CURRENT: ProbeModel(
        lag_s=0.8, noise_si=0.04, drift_si=0.02, resolution_si=0.01
    ),
    Role.COMPRESSOR_FREQUENCY: ProbeModel(noise_si=0.03, resolution_si=0.1),
    Role.CYLINDER_MASS: ProbeModel(lag_s=0.5, noise_si=0.0004, resolution_si=0.001),
    Role.BAROMETER: ProbeModel(noise_si=10.0, resolution_si=10.0),
}
"""The default model of each role at a running unit."""

VACUUM_MODEL: Final = ProbeModel(noise_si=0.15, resolution_si=PASCAL_PER_MICRON)
"""A vacuum gauge: steps of a micron, noise of one; its lag is in the gauge's own model."""

EXTRA_PROBE_MODELS: Final = {
    Role.RETURN_AIR_WET_BULB: ProbeModel(
        lag_s=45.0, noise_si=0.04, drift_si=0.05, resolution_si=_TENTH_FAHRENHEIT
    ),
    Role.RETURN_AIR_HUMIDITY: ProbeModel(
        lag_s=30.0, noise_si=0.002, drift_si=0.003, resolution_si=0.001
    ),
}
"""Probes of the return air's moisture, which a fixed orifice is charged by (assumptions)."""


class Probe:
    """One probe with its own stream of noise.

    Parameters
    ----------
    model : ProbeModel
    seed : str
        Same seed, same noise; two probes of one session get different ones.
    zero_si : float
        A value the resolution grid passes through: 0 °F for a probe that shows tenths of °F.
    """

    def __init__(self, model: ProbeModel, seed: str, zero_si: float = 0.0) -> None:
        self.model = model
        self._random = random.Random(seed)
        self._zero_si = zero_si
        self._answer: float | None = None
        self._last_true = 0.0
        self._drift = model.drift_si * self._random.gauss(0.0, 1.0)

    def follow(self, true_si: float, dt_s: float, lag_s: float | None = None) -> None:
        """Let `dt_s` [s] pass while the measured value goes to `true_si` in a straight line.

        Parameters
        ----------
        lag_s : float, optional
            Instead of the model's, for a probe that lost contact [s].
        """
        lag = self.model.lag_s if lag_s is None else lag_s
        if self._answer is None or lag <= 0.0:
            self._answer = true_si
        elif dt_s > 0.0:
            # The exact answer of a first-order lag to a ramp: it trails by rate * lag.
            trail = (true_si - self._last_true) / dt_s * lag
            behind = self._answer - (self._last_true - trail)
            self._answer = true_si - trail + behind * math.exp(-dt_s / lag)
        self._last_true = true_si
        if dt_s > 0.0:
            keep = math.exp(-dt_s / self.model.drift_lag_s)
            spread = self.model.drift_si * math.sqrt(1.0 - keep * keep)
            self._drift = keep * self._drift + spread * self._random.gauss(0.0, 1.0)

    def stand_at(self, shown_si: float) -> None:
        """Go on from what is shown instead of what was felt, as a probe that had stood still."""
        self._answer = shown_si

    def read(self) -> float:
        """Return what the probe shows now [SI]; draws fresh noise at each call.

        Raises
        ------
        ValueError
            If it never followed anything.
        """
        if self._answer is None:
            raise ValueError("a probe must follow something before it is read")
        noise = self.model.noise_si * self._random.gauss(0.0, 1.0)
        value = self._answer + self._drift + noise
        step = self.model.resolution_si
        if step <= 0.0:
            return value
        return self._zero_si + round((value - self._zero_si) / step) * step
