"""Refrigerant properties for the physical plant: the shipped file, and quick look-ups from it.

The file holds nodes uniform in ln p, computed by ``python -m chargeassist.plant.build_properties``;
here they become fine tables of plain floats, because the plant looks up ten states in each of its
steps. Nothing here imports CoolProp.

Saturated states are tabulated; a state beside the saturation line is a short polynomial in the
distance of enthalpy from the line, its coefficients tabulated too:

- vapour, ``d = h - h_dew`` [J/kg]: superheat ``a1 d + a2 d^2 + a3 d^3`` [K], volume
  ``v_dew (1 + c1 d + c2 d^2 + c3 d^3)``;
- liquid, ``d = h_bubble - h`` [J/kg]: subcooling ``k1 d + k2 d^2`` [K], density
  ``rho_bubble (1 + e1 d + e2 d^2)``.
"""

import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final

import numpy as np

from chargeassist.model.errors import ConfigError, RecordDamagedError
from chargeassist.physics.curve import LogPressureCurve
from chargeassist.physics.table import verified_document
from chargeassist.plant.reference_compressor import Coefficients

FILE_NAME: Final = "property_table.json"
FORMAT: Final = "chargeassist plant properties"
FORMAT_VERSION: Final = 1
REMEDY: Final = "install chargeassist anew, or rebuild the file with the property builder"

COLUMNS: Final = (
    "bubble_temp_k",
    "dew_temp_k",
    "bubble_enthalpy_j_per_kg",
    "dew_enthalpy_j_per_kg",
    "bubble_density_kg_per_m3",
    "dew_density_kg_per_m3",
    "superheat_1",
    "superheat_2",
    "superheat_3",
    "volume_1",
    "volume_2",
    "volume_3",
    "subcooling_1",
    "subcooling_2",
    "liquid_density_1",
    "liquid_density_2",
)
"""What the file holds of each refrigerant at each node, in this order."""

FINE_COUNT: Final = 1601
"""Rows of the tables made at import, linear between them: about 0.1 mK of saturation."""

FARTHEST_VAPOUR_J_PER_KG: Final = 1.45e5
FARTHEST_LIQUID_J_PER_KG: Final = 5e4
"""Beyond these distances from the line the polynomials are held [J/kg]."""

Row = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fluid:
    """One refrigerant as the plant sees it.

    Attributes
    ----------
    name : str
        ANSI/ASHRAE 34 designation with a hyphen.
    low_pa_abs, high_pa_abs : float
        Ends of the table [Pa absolute].
    log_low : float
        ln of the lowest pressure [ln Pa].
    per_step : float
        Rows per unit of ln p.
    last : int
        Index of the last interval.
    rows : list of tuple
        For each row and column of `COLUMNS`, its value and its change to the next row, flattened:
        ``(T_b, dT_b, T_d, dT_d, ...)``.
    bubble_t0_k, bubble_per_k : float
        Uniform temperatures of `log_bubble_pressures` [K], [1/K].
    log_bubble_pressures : list of float
        ln of the bubble pressure [ln Pa].
    flow_map, power_map : tuple of 10 floats
        Ten-coefficient polynomials of the reference compressor at its base frequency and 20 °F of
        suction superheat; dew temperatures in °F, flow in lb/h, power in W.
    """

    name: str
    low_pa_abs: float
    high_pa_abs: float
    log_low: float
    per_step: float
    last: int
    rows: list[Row]
    bubble_t0_k: float
    bubble_per_k: float
    log_bubble_pressures: list[float]
    flow_map: Coefficients
    power_map: Coefficients

    def row_at(self, pressure_pa_abs: float) -> tuple[Row, float]:
        """Return the row to start from, and how far to go towards the next, at most all of it [1].

        Below the table the way is negative: the first interval is drawn on.
        """
        x = (math.log(pressure_pa_abs) - self.log_low) * self.per_step
        i = int(x) if x > 0.0 else 0
        if i > self.last:
            return self.rows[self.last], 1.0
        return self.rows[i], x - i

    def state(self, pressure_pa_abs: float) -> Row:
        """Return the values of `COLUMNS` at a pressure, held at the ends of the table."""
        x = (math.log(pressure_pa_abs) - self.log_low) * self.per_step
        i = int(x)
        if x < 0.0:
            i = 0
            x = 0.0
        elif i > self.last:
            i = self.last
            x = i + 1.0
        w = x - i
        row = self.rows[i]
        return tuple([v + w * dv for v, dv in zip(row[::2], row[1::2], strict=True)])

    def bubble_pressure_pa_abs(self, temp_k: float) -> float:
        """Return the bubble pressure [Pa absolute], held at the ends of the table."""
        x = (temp_k - self.bubble_t0_k) * self.bubble_per_k
        logs = self.log_bubble_pressures
        if x <= 0.0:
            return math.exp(logs[0])
        i = int(x)
        if i >= len(logs) - 1:
            return math.exp(logs[-1])
        return math.exp(logs[i] + (x - i) * (logs[i + 1] - logs[i]))

    def liquid_enthalpy_j_per_kg(self, pressure_pa_abs: float, temp_k: float) -> float:
        """Return the enthalpy of subcooled liquid (at the bubble point if warmer) [J/kg]."""
        s = self.state(pressure_pa_abs)
        drop_k = s[0] - temp_k
        if drop_k <= 0.0:
            return s[2]
        k1, k2 = s[12], s[13]
        return s[2] - 2.0 * drop_k / (k1 + math.sqrt(k1 * k1 + 4.0 * k2 * drop_k))


def distance_of_superheat(a1: float, a2: float, a3: float, superheat_k: float) -> float:
    """Return the enthalpy above the dew point that gives a superheat [J/kg], 0 below it.

    Two Newton steps from the root of the quadratic part; up to 80 K they leave less than 0.4 kJ/kg.
    """
    if superheat_k <= 0.0:
        return 0.0
    d = 2.0 * superheat_k / (a1 + math.sqrt(a1 * a1 + 4.0 * a2 * superheat_k))
    d -= (((a3 * d + a2) * d + a1) * d - superheat_k) / ((3.0 * a3 * d + 2.0 * a2) * d + a1)
    d -= (((a3 * d + a2) * d + a1) * d - superheat_k) / ((3.0 * a3 * d + 2.0 * a2) * d + a1)
    return d


def fluid_names() -> tuple[str, ...]:
    """Return the designations the physical plant can run on."""
    return tuple(document()["refrigerants"])


@cache
def fluid(name: str) -> Fluid:
    """Return the tables of one refrigerant; made once per process.

    Raises
    ------
    ConfigError
        The plant has no properties of it; the text names those it has.
    RecordDamagedError
        The shipped file is missing, is none, or contradicts its own hash.
    """
    names = fluid_names()
    if name not in names:
        raise ConfigError(
            f"the physical plant expected one of {', '.join(names)}, came {name!r}; "
            f"choose one of these"
        )
    return _made(name, document()["refrigerants"][name])


@cache
def document() -> dict[str, Any]:
    """Return the verified content of the shipped file; read once."""
    try:
        text = files("chargeassist.plant").joinpath(FILE_NAME).read_text(encoding="ascii")
    except (OSError, UnicodeDecodeError) as exc:
        raise RecordDamagedError(f"{FILE_NAME} cannot be read ({exc}); {REMEDY}") from exc
    return decode(text)


def decode(text: str) -> dict[str, Any]:
    """Return the document in `text`, after checking its form and its hash.

    Raises
    ------
    RecordDamagedError
        It is not a property file of this format version, or contradicts its hash.
    """
    return verified_document(
        text, file_name=FILE_NAME, form=FORMAT, version=FORMAT_VERSION, remedy=REMEDY
    )


def _made(name: str, entry: dict[str, Any]) -> Fluid:
    low, high = entry["low_pa_abs"], entry["high_pa_abs"]
    log_p = np.linspace(math.log(low), math.log(high), FINE_COUNT)
    pressures = np.exp(log_p)
    pressures[0], pressures[-1] = low, high
    values = np.stack(
        [LogPressureCurve(low, high, np.array(entry[c])).values(pressures) for c in COLUMNS], axis=1
    )
    steps = np.diff(values, axis=0)
    pairs = np.stack([values[:-1], steps], axis=2).reshape(FINE_COUNT - 1, 2 * len(COLUMNS))
    bubble_k = values[:, 0]
    temps_k = np.linspace(bubble_k[0], bubble_k[-1], FINE_COUNT)
    logs = np.interp(temps_k, bubble_k, log_p)
    flow, power = entry["flow_map"], entry["power_map"]
    return Fluid(
        name=name,
        low_pa_abs=low,
        high_pa_abs=high,
        log_low=float(log_p[0]),
        per_step=(FINE_COUNT - 1) / float(log_p[-1] - log_p[0]),
        last=FINE_COUNT - 2,
        rows=[tuple(row) for row in pairs.tolist()],
        bubble_t0_k=float(temps_k[0]),
        bubble_per_k=(FINE_COUNT - 1) / float(temps_k[-1] - temps_k[0]),
        log_bubble_pressures=logs.tolist(),
        flow_map=_ten(flow),
        power_map=_ten(power),
    )


def _ten(values: list[float]) -> Coefficients:
    a, b, c, d, e, f, g, h, i, j = values
    return a, b, c, d, e, f, g, h, i, j
