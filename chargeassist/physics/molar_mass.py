"""Molar masses of refrigerants; of a blend at its nominal composition."""

from typing import Final

from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import Refrigerant

MOLAR_MASSES_G: Final[dict[str, float]] = {
    "R-22": 86.468,
    "R-32": 52.024,
    "R-134a": 102.032,
    "R-290": 44.096,
    "R-404A": 97.604,
    "R-407A": 90.111,
    "R-407C": 86.204,
    "R-407F": 82.058,
    "R-407H": 79.099,
    "R-410A": 72.585,
    "R-417A": 106.746,
    "R-421A": 111.746,
    "R-422B": 108.518,
    "R-422D": 109.935,
    "R-427A": 90.444,
    "R-434A": 105.737,
    "R-448A": 86.283,
    "R-449A": 87.213,
    "R-450A": 108.669,
    "R-452A": 103.511,
    "R-452B": 63.525,
    "R-454A": 80.468,
    "R-454B": 62.614,
    "R-454C": 90.776,
    "R-455A": 87.453,
    "R-459A": 62.985,
    "R-466A": 80.690,
    "R-507A": 98.859,
    "R-513A": 108.426,
    "R-515B": 117.485,
    "R-600a": 58.122,
    "R-744": 44.010,
    "R-1234yf": 114.042,
    "R-1234ze(E)": 114.042,
    "R-1270": 42.080,
}
"""By designation [g/mol], as CoolProp 8 has them."""


def molar_mass_kg(refrigerant: Refrigerant) -> float | NoValue:
    """Return the molar mass [kg/mol]."""
    gram = MOLAR_MASSES_G.get(refrigerant.name)
    return NoValue(f"no molar mass of {refrigerant.name}") if gram is None else gram * 1e-3
