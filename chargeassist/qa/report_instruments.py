"""The instruments of a report, and what was read off them by hand."""

from chargeassist.model import display
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import RUNNING_ROLES, Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, find_unit
from chargeassist.qa.report_table import NOT_SAID, Table
from chargeassist.qa.rescore import Rescored
from chargeassist.session.record.package_layout import SI_UNIT
from chargeassist.stream.typed_readings import hand_accuracy, typed_channel


def instruments_table(session: Rescored, system: UnitSystem) -> Table:
    """Return probes, and what the running circuit was read by hand with."""
    rows = [
        (
            channel.role.label,
            plain(channel.serial, 60) or NOT_SAID,
            _accuracy(channel.accuracy, channel, system),
            plain(channel.calibrated, 60) or NOT_SAID,
        )
        for channel in session.channels
    ]
    typed = {entry for _, entry in _typed(session)}
    for entry, role in RUNNING_ROLES.items():
        if entry in typed:
            channel = typed_channel(session.job, role)
            _, source = hand_accuracy(session.job, role)
            accuracy = _accuracy(channel.accuracy, channel, system)
            rows.append((f"{role.label}, by hand", NOT_SAID, accuracy, plain(source, 120)))
    return Table(
        "Instruments",
        ("Probe", "Serial number", "Declared accuracy", "Calibration"),
        tuple(rows),
        "No probe was declared.",
    )


def typed_table(session: Rescored, system: UnitSystem) -> Table:
    """Return every reading that was typed, with the time it was read and the time it was typed."""
    return Table(
        "Readings taken by hand",
        ("Read at", "Typed at", "What", "Value"),
        tuple(
            (
                display.clock(mark.seen_t),
                display.clock(mark.t),
                entry.label,
                display.reading(mark.value_si or 0.0, entry.quantity, entry.reference, system),
            )
            for mark, entry in _typed(session)
        ),
        "Nothing was typed.",
    )


def _typed(session: Rescored) -> list[tuple[Mark, Entry]]:
    return [
        (mark, entry)
        for mark in session.marks
        if mark.kind is MarkKind.ENTERED
        and (entry := believed(mark.text, mark.value_si)) is not None
    ]


def _accuracy(accuracy: Accuracy | None, channel: Channel, system: UnitSystem) -> str:
    if accuracy is None:
        return NOT_SAID
    parts = []
    if accuracy.absolute_si:
        parts.append(_size(accuracy.absolute_si, channel, system))
    if accuracy.relative:
        parts.append(f"{100.0 * accuracy.relative:g} % of reading")
    return "± " + " + ".join(parts)


def _size(value_si: float, channel: Channel, system: UnitSystem) -> str:
    """Return a limit of error with two figures at least: "± 0 kPa" would say that there is none."""
    size, unit = _in_shown_unit(value_si, channel, system)
    if size < _TWO_FIGURES_FROM.get(unit, 0.0):
        return f"{size:.2g} {unit}"
    match channel.quantity:
        case Quantity.TEMPERATURE:
            return display.difference(value_si, system)
        case Quantity.PRESSURE if channel.role is Role.VACUUM:
            return f"{size:.0f} {unit}"
        case Quantity.PRESSURE:
            return display.pressure(value_si, None, system)
        case Quantity.MASS:
            return display.mass(value_si, system)
        case Quantity.FRACTION:
            return f"{100.0 * value_si:g} %"
        case _:
            return f"{value_si:g} {SI_UNIT[channel.quantity]}"


_TWO_FIGURES_FROM = {
    "kPa": 9.95,
    "Pa": 9.95,
    "psi": 0.95,
    "K": 0.95,
    "°F": 0.95,
    "g": 9.5,
    "oz": 0.95,
}
"""Below these the usual decimals of a size leave one figure or none."""


def _in_shown_unit(value_si: float, channel: Channel, system: UnitSystem) -> tuple[float, str]:
    """Return a size of a channel's quantity in the unit it is shown in, and that unit."""
    us = system is UnitSystem.US
    match channel.quantity:
        case Quantity.TEMPERATURE:
            return display.difference_value(value_si, system), display.difference_unit(system)
        case Quantity.PRESSURE if channel.role is Role.VACUUM:
            unit = "micron" if us else "Pa"
        case Quantity.PRESSURE:
            unit = "psi" if us else "kPa"
        case Quantity.MASS:
            unit = "oz" if us else "g"
        case _:
            return value_si, SI_UNIT[channel.quantity]
    return value_si / find_unit(unit, channel.quantity).scale, unit
