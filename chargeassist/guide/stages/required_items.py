"""What published documents require on the record, on the label, and before leaving.

This is information, each line with its source; local code says which of it is binding.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class RequiredItem:
    """An item that a document requires.

    Attributes
    ----------
    key : str
        For files and marks: "a-z 0-9 _".
    text : str
        One clause.
    source : str
    from_memory : bool
    a2l_only : bool
        Whether it concerns mildly flammable refrigerants (A2L) only.
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
"""What a record should contain."""

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
"""What the label at the unit should show."""

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
"""What should be done before leaving."""


def required_items(*, a2l: bool) -> tuple[RequiredItem, ...]:
    """Return all lists in order; items for A2L refrigerants only if `a2l`."""
    every = RECORD_ITEMS + LABEL_ITEMS + CLOSING_ITEMS
    return tuple(item for item in every if a2l or not item.a2l_only)
