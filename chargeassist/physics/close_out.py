"""What is left when the job is done: charge in tonnes of CO2, and what to write down.

The lists are information with their source; which of them binds is for local code to say.
"""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class RequiredItem:
    """Something a document wants on the record or the label.

    Attributes
    ----------
    key : str
        For files: "a-z 0-9 _".
    text : str
        One clause.
    source : str
    from_memory : bool
    a2l_only : bool
        It concerns mildly flammable refrigerants (A2L) only.
    """

    key: str
    text: str
    source: str
    from_memory: bool = False
    a2l_only: bool = False


_FORM: Final = "California CF2R-MCH-25 form (2013), businessdocbox.com/Logistics/95396786"
_GAS: Final = "Regulation (EU) No 517/2014, article 6"
_SHEET: Final = "maker's start-up sheet, easymanua.ls/lennox/liac024-180p431/manual, page 20"
_CSA: Final = (
    "CSA C273.5-11, 6.3, as told in guides.co/g/"
    "heat-pump-best-practices-installation-guide-for-existing-homes-89006/195076"
)
_A2L: Final = "IEC 60335-2-40 annex DD as printed in manualslib.fr/manual/1150913, page 10"
_PRACTICE: Final = "common practice, no published source"

RECORD_ITEMS: Final[tuple[RequiredItem, ...]] = (
    RequiredItem(key="site", text="system name and location", source=_FORM),
    RequiredItem(key="unit", text="make, model and serial of the condensing unit", source=_FORM),
    RequiredItem(key="capacity", text="nominal capacity", source=_FORM),
    RequiredItem(key="refrigerant", text="type and amount of refrigerant", source=_GAS),
    RequiredItem(key="metering", text="type of metering device", source=_FORM),
    RequiredItem(key="method", text="method of charge verification and its date", source=_FORM),
    RequiredItem(key="person", text="person, and certificate number", source=_GAS),
    RequiredItem(key="company", text="company, and its certificate number", source=_GAS),
    RequiredItem(
        key="calibration", text="calibration dates of gauges, temperature probes and scale",
        source=_FORM,
    ),
    RequiredItem(key="airflow", text="airflow and how it was found", source=_FORM),
    RequiredItem(key="line_set", text="line-set length and charge adjustment", source=_CSA),
    RequiredItem(key="added", text="refrigerant added, each time", source=_GAS),
    RequiredItem(
        key="recovered", text="refrigerant recovered, recycled or reclaimed, and where",
        source=_GAS,
    ),
    RequiredItem(key="leak_check", text="dates and results of leak checks", source=_GAS),
    RequiredItem(
        key="readings",
        text="outdoor and indoor air, liquid and suction pressure and line temperature at the end",
        source=_SHEET,
    ),
    RequiredItem(key="signature", text="signature and date", source=_FORM),
)  # fmt: skip
"""What a record is to hold; which of it binds depends on the place."""

LABEL_ITEMS: Final[tuple[RequiredItem, ...]] = (
    RequiredItem(
        key="total_charge",
        text="total charge on the label: factory charge and what was added",
        source="Regulation (EU) No 517/2014, article 12",
        from_memory=True,
    ),
    RequiredItem(
        key="co2", text="warming potential and CO2 equivalent of the charge",
        source="Regulation (EU) No 517/2014, article 12", from_memory=True,
    ),
    RequiredItem(
        key="flammable", text="label after charging, if it is not there yet", source=_A2L,
        a2l_only=True,
    ),
    RequiredItem(
        key="room_area", text="the plate's minimum room area is met", source=_PRACTICE,
        from_memory=True, a2l_only=True,
    ),
)  # fmt: skip
"""What the label at the unit is to show."""

CLOSING_ITEMS: Final[tuple[RequiredItem, ...]] = (
    RequiredItem(key="port_leak_check", text="leak check at the ports after the hoses are off",
                 source=_A2L),
    RequiredItem(key="last_leak_check", text="leak check once more before leaving", source=_A2L,
                 a2l_only=True),
    RequiredItem(key="cores_and_caps", text="valve cores tight, caps on with their seals",
                 source=_PRACTICE, from_memory=True),
    RequiredItem(key="valves", text="service valves fully open", source=_PRACTICE,
                 from_memory=True),
    RequiredItem(key="panels", text="every panel back with every screw", source=_PRACTICE,
                 from_memory=True),
    RequiredItem(key="scale", text="cylinder weighed and the scale read back to its zero",
                 source=_PRACTICE, from_memory=True),
)  # fmt: skip
"""What is done before leaving."""


def required_items(*, a2l: bool) -> tuple[RequiredItem, ...]:
    """Return all lists in order, with what concerns A2L refrigerants only where `a2l`."""
    every = RECORD_ITEMS + LABEL_ITEMS + CLOSING_ITEMS
    return tuple(item for item in every if a2l or not item.a2l_only)
