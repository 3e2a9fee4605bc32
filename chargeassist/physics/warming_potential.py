"""Global warming potential of a refrigerant, and of its charge in tonnes of CO2."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmingPotential:
    """One published global warming potential over 100 years.

    Attributes
    ----------
    value : float
        Mass of CO2 with the same effect [kg/kg].
    edition : str
        Whose table.
    from_memory : bool
        It was not read in the document: an editable default.
    """

    value: float
    edition: str
    from_memory: bool = True


EDITION: Final = "Regulation (EU) No 517/2014, annexes I, II and IV"
"""The table counted with; its fluorocarbons of annex I are those of IPCC's Fourth Assessment Report
(2007). Later reports and rules give other values: R-32 is 771 in the Sixth. A blend is the mean of
its parts by mass (annex IV)."""

_READ: Final = {
    "R-32": 675.0,
    "R-125": 3500.0,
    "R-134a": 1430.0,
    "R-143a": 4470.0,
    "R-227ea": 3220.0,
}
_FROM_MEMORY: Final = {
    "R-22": 1810.0,
    "R-290": 3.0,
    "R-600": 4.0,
    "R-600a": 3.0,
    "R-744": 1.0,
    "R-1234yf": 4.0,
    "R-1234ze(E)": 7.0,
    "R-1270": 2.0,
}
COMPONENT_GWP: Final[dict[str, WarmingPotential]] = {
    name: WarmingPotential(value=value, edition=EDITION, from_memory=from_memory)
    for table, from_memory in ((_READ, False), (_FROM_MEMORY, True))
    for name, value in table.items()
}
"""By component [kg/kg]: annex I as read at legislation.gov.uk/eur/2014/517/annexes/adopted; annexes
II and IV, and R-22, from memory. R-13I1 (of R-466A) is in none of them as far as is known here.
R-410A comes out at 2 087.5: 5 t of CO2 are 2.39 kg of it, which a published summary also says."""


def blend_gwp(
    mass_fractions: Sequence[tuple[str, float]],
    table: dict[str, WarmingPotential] = COMPONENT_GWP,
) -> WarmingPotential | NoValue:
    """Return the warming potential of a blend: the mean of its parts by mass [kg/kg].

    Parameters
    ----------
    mass_fractions : sequence of (str, float)
        Components and mass fractions, whose sum is 1 [kg/kg].
    table : dict
        One edition's values; editions are not to be mixed.

    Returns
    -------
    WarmingPotential or NoValue
        `NoValue` if the table lacks a component or mixes editions: type the plate's value.

    References
    ----------
    .. [1] Regulation (EU) No 517/2014, annex IV (from memory).
    """
    if not math.isclose(math.fsum(share for _, share in mass_fractions), 1.0, abs_tol=1e-3):
        return NoValue("the mass fractions of the blend do not add up to one")
    parts: list[WarmingPotential] = []
    for name, _ in mass_fractions:
        if name not in table:
            return NoValue(f"the table has no warming potential of {name}; take the plate's")
        parts.append(table[name])
    if len({part.edition for part in parts}) != 1:
        return NoValue("warming potentials of different editions are not to be mixed")
    return WarmingPotential(
        value=math.fsum(
            part.value * share for part, (_, share) in zip(parts, mass_fractions, strict=True)
        ),
        edition=parts[0].edition,
        from_memory=any(part.from_memory for part in parts),
    )


def co2_equivalent_kg(charge_kg: float, gwp: WarmingPotential) -> float:
    """Return the mass of CO2 with the same effect as a charge [kg].

    Raises
    ------
    ConfigError
        The charge is not a mass of zero or more.
    """
    if not 0.0 <= charge_kg < math.inf:
        raise ConfigError(f"expected a charge of 0 kg or more, came {charge_kg:g} kg")
    return charge_kg * gwp.value
