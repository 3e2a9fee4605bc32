"""The rise of temperature in a compressor, against the enthalpies of CoolProp."""

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.model.values import NoValue
from chargeassist.physics.compression import RISE_EXPONENT, compression_rise_k

FLUIDS = {"R-22": "R22", "R-32": "R32", "R-134a": "R134a", "R-410A": "R410A"}


@pytest.mark.parametrize("name", FLUIDS)
@pytest.mark.parametrize("efficiency", [0.5, 0.7, 0.85])
@pytest.mark.parametrize(
    ("dew_k", "superheat_k", "condensing_k"),
    [(270.0, 5.0, 310.0), (280.0, 10.0, 305.0), (280.0, 10.0, 320.0), (286.0, 25.0, 325.0)],
)
def test_the_rise_gives_the_efficiency_of_the_enthalpies_back(
    name: str, efficiency: float, dew_k: float, superheat_k: float, condensing_k: float
) -> None:
    """h2 = h1 + (h2s - h1) / eta, CoolProp 8 (reference equations of state)."""
    fluid = FLUIDS[name]
    low = PropsSI("P", "T", dew_k, "Q", 1, fluid)
    high = PropsSI("P", "T", condensing_k, "Q", 1, fluid)
    suction_k = dew_k + superheat_k
    h1 = PropsSI("H", "P", low, "T", suction_k, fluid)
    s1 = PropsSI("S", "P", low, "T", suction_k, fluid)
    h2 = h1 + (PropsSI("H", "P", high, "S", s1, fluid) - h1) / efficiency
    rise_k = PropsSI("T", "P", high, "H", h2, fluid) - suction_k
    ideal = compression_rise_k(name, suction_k, low, high, 1.0)
    assert isinstance(ideal, float)
    assert ideal / rise_k == pytest.approx(efficiency, abs=0.05 if efficiency == 0.7 else 0.1)


def test_what_cannot_be_computed_is_said() -> None:
    assert isinstance(compression_rise_k("R-744", 280.0, 1e6, 2e6, 0.7), NoValue)
    assert isinstance(compression_rise_k("R-32", 280.0, 1e6, 1.1e6, 0.7), NoValue)
    assert set(FLUIDS) < set(RISE_EXPONENT)
