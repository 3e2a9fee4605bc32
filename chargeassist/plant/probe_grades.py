"""Grades of simulated probe sets: how noisy, late and coarse they are, and what they declare."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeGrade:
    """How good a probe set is: factors of the usual probes, and the declared limits.

    Attributes
    ----------
    noise, lag : float
        Factors of noise and of time constants [1].
    pressure_step_pa, temp_step_k : float
        Resolution [Pa], [K].
    pressure_limit_pa, temp_limit_k : float
        Half widths of the declared limits of error [Pa], [K].
    """

    noise: float
    lag: float
    pressure_step_pa: float
    temp_step_k: float
    pressure_limit_pa: float
    temp_limit_k: float


GRADES: Final = {
    "good": ProbeGrade(
        noise=0.6, lag=0.7, pressure_step_pa=689.5, temp_step_k=1.0 / 18.0,
        pressure_limit_pa=7e3, temp_limit_k=0.3,
    ),
    "usual": ProbeGrade(
        noise=1.0, lag=1.0, pressure_step_pa=689.5, temp_step_k=1.0 / 18.0,
        pressure_limit_pa=14e3, temp_limit_k=0.5,
    ),
    "coarse": ProbeGrade(
        noise=1.6, lag=1.5, pressure_step_pa=3447.0, temp_step_k=0.1,
        pressure_limit_pa=28e3, temp_limit_k=1.0,
    ),
}  # fmt: skip
"""Probe sets on the market lie about here (common experience, no published source)."""
