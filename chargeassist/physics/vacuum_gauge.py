"""How far the reading of a vacuum gauge can be trusted."""

import math
from dataclasses import dataclass

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.physics.uncertainty import COVERAGE_FACTOR, rectangular_u


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeLimits:
    """A thermal vacuum gauge; defaults are assumptions, to be replaced by the data sheet's.

    Attributes
    ----------
    resolution_pa : float
        Smallest step [Pa].
    accuracy_relative : float
        Declared limit of error as a share of the reading, plus or minus [-].
    scatter_relative : float
        Scatter of a reading as a share of it, standard deviation [-].
    water_most : float
        Most that it shows for water vapour over its true pressure [-]; 1.47 by the kinetic theory
        of heat conduction, free-molecular range, for a gauge adjusted with nitrogen. Refrigerant
        vapour reads high too: R-32 1.14, R-134a 1.70.

    Raises
    ------
    ConfigError
        A figure is negative or no number, or `water_most` is not from 1 to 3.
    """

    resolution_pa: float = PASCAL_PER_MICRON
    accuracy_relative: float = 0.10
    scatter_relative: float = 0.005
    water_most: float = 1.5

    def __post_init__(self) -> None:
        for name in ("resolution_pa", "accuracy_relative", "scatter_relative"):
            value: float = getattr(self, name)
            if not 0.0 <= value < math.inf:
                raise ConfigError(f"{name}: expected zero or more, came {value:g}")
        if not 1.0 <= self.water_most <= 3.0:
            raise ConfigError(f"water_most: expected 1 to 3, came {self.water_most:g}")

    def scatter_pa(self, pressure_pa_abs: float) -> float:
        """Return the standard deviation of one reading [Pa], never below half a step."""
        return math.hypot(self.scatter_relative * pressure_pa_abs, 0.5 * self.resolution_pa)

    def expanded_pa(self, pressure_pa_abs: float) -> float:
        """Return the expanded uncertainty (k = 2) of a reading for permanent gas [Pa]."""
        return COVERAGE_FACTOR * math.hypot(
            rectangular_u(self.accuracy_relative * pressure_pa_abs),
            rectangular_u(0.5 * self.resolution_pa),
            self.scatter_pa(pressure_pa_abs),
        )
