"""The tables of a job file that say what stands at the site.

::

    [plate]
    safety_group = "A2L"
    high_side = "4.2 MPa(g)"            # test pressures of the two sides
    low_side = "2.4 MPa(g)"
    rated_load = "14.2 A"
    minimum_circuit = "19 A"
    voltage = "230 V"
    phases = 1
    capacity = "3 tons"
    room_area = "12 m2"
    source = "unit plate"

    [line_set]
    length = "12 m"
    lift = "3 m"
    included = "7.5 m"                  # what the plate charge includes
    liquid_diameter = "3/8 in"
    suction_diameter = "3/4 in"
    adder = "0.6 oz/ft"                 # the maker's, with adder_source; else the published table
    adder_source = "installation manual, page 18"
    short_line = "leave"                # or "take out", as the maker says
    metering = "indoor"                 # where the metering device is: "indoor" or "outdoor"

    [cylinder]
    tare = "5.9 kg"
    water_capacity = "11.8 kg"
    gross = "13.2 kg"

    [crew]
    certificate = "U-0000"
    company = "of your own"
"""

from chargeassist.model.installation import (
    Crew,
    Cylinder,
    LineSet,
    Metering,
    Plate,
    SafetyGroup,
    ShortLine,
)
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference
from chargeassist.session.job.toml_table import TomlTable, came

_SPANS = {
    Quantity.CURRENT: (0.1, 2000.0),
    Quantity.VOLTAGE: (10.0, 1000.0),
    Quantity.POWER: (300.0, 3e6),
    Quantity.AREA: (0.5, 1e5),
    Quantity.MASS: (0.05, 2000.0),
}
"""Between what numbers of plate and cylinder lie [SI]."""

_TEST_PA = (2e5, 2e7)
"""Between what test pressures lie [Pa gauge]."""


def read_plate(table: TomlTable) -> Plate:
    """Return what ``[plate]`` says; all of it may be absent.

    Raises
    ------
    ConfigError
        If a number is no such number, or numbers come without their source.
    """
    group = table.choice("safety_group", tuple(SafetyGroup), default="")
    phases = table.get("phases")
    if phases is not None and (type(phases) is not int or phases not in (1, 3)):
        raise table.error("phases", "expected 1 or 3", came(phases))
    plate = Plate(
        safety_group=SafetyGroup(group) if group else None,
        high_side_pa_gauge=table.pressure_between("high_side", Reference.GAUGE, *_TEST_PA),
        low_side_pa_gauge=table.pressure_between("low_side", Reference.GAUGE, *_TEST_PA),
        rated_load_a=_number(table, "rated_load", Quantity.CURRENT),
        minimum_circuit_a=_number(table, "minimum_circuit", Quantity.CURRENT),
        voltage_v=_number(table, "voltage", Quantity.VOLTAGE),
        phases=phases or 0,
        capacity_w=_number(table, "capacity", Quantity.POWER),
        room_area_m2=_number(table, "room_area", Quantity.AREA),
        source=plain(table.text("source", default="")),
    )
    given = any(key != "source" for key in table.data)
    if given and not plate.source.strip():
        raise table.error("source", "expected where these were read", "nothing")
    low, high = plate.low_side_pa_gauge, plate.high_side_pa_gauge
    if low is not None and high is not None and low > high:
        raise table.error(
            "low_side",
            f"expected no more than high_side, {high / 1e6:g} MPa(g)",
            f"{low / 1e6:g} MPa(g)",
        )
    table.finish()
    return plate


def read_line_set(table: TomlTable) -> LineSet | None:
    """Return what ``[line_set]`` says; None when the table is absent.

    Raises
    ------
    ConfigError
        As `read_plate`; a maker's adder needs its source.
    """
    if not table.data:
        return None
    length = Quantity.LENGTH
    short = table.choice("short_line", tuple(ShortLine), default="")
    metering = table.choice("metering", tuple(Metering), default="")
    line_set = LineSet(
        length_m=table.quantity_between("length", length, 0.1, 500.0),
        lift_m=table.quantity_between("lift", length, -150.0, 150.0, 0.0),
        included_m=table.optional_between("included", length, 0.0, 100.0),
        liquid_diameter_m=table.optional_between("liquid_diameter", length, 0.003, 0.1),
        suction_diameter_m=table.optional_between("suction_diameter", length, 0.003, 0.2),
        adder_kg_per_m=table.optional_between("adder", Quantity.MASS_PER_LENGTH, 0.001, 5.0),
        adder_source=plain(table.text("adder_source", default="")),
        short_line=ShortLine(short) if short else None,
        metering=Metering(metering) if metering else None,
    )
    if line_set.adder_kg_per_m is not None and not line_set.adder_source.strip():
        raise table.error("adder_source", "expected where the adder was read", "nothing")
    table.finish()
    return line_set


def read_cylinder(table: TomlTable) -> Cylinder:
    """Return what ``[cylinder]`` says.

    Raises
    ------
    ConfigError
        As `read_plate`; a cylinder weighs no less than its tare.
    """
    cylinder = Cylinder(
        tare_kg=_number(table, "tare", Quantity.MASS),
        water_capacity_kg=_number(table, "water_capacity", Quantity.MASS),
        gross_kg=_number(table, "gross", Quantity.MASS),
    )
    tare, gross = cylinder.tare_kg, cylinder.gross_kg
    if tare is not None and gross is not None and gross < tare:
        raise table.error("gross", f"expected at least the tare, {tare:g} kg", f"{gross:g} kg")
    table.finish()
    return cylinder


def read_crew(table: TomlTable) -> Crew:
    """Return what ``[crew]`` says."""
    crew = Crew(
        certificate=plain(table.text("certificate", default=""), 60),
        company=plain(table.text("company", default=""), 80),
    )
    table.finish()
    return crew


def _number(table: TomlTable, key: str, quantity: Quantity) -> float | None:
    return table.optional_between(key, quantity, *_SPANS[quantity])
