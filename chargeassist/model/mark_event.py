"""The technician's event: what was done, said, seen or read by hand."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final, TypedDict

WAIVED_BY: Final = ": "
"""Separates a waived condition from the reason, in the text of the mark."""

RECOVERED: Final = "recovered"
"""Text of the end of a step in which refrigerant came out, of an amount nobody knows yet."""


class MarkKind(StrEnum):
    """What the technician did or saw."""

    STEP_BEGUN = "step_begun"  # the cylinder valve is open
    STEP_ENDED = (
        "step_ended"  # ... and shut; mass_kg if it was read, negative or `RECOVERED` if out
    )
    FREQUENCY_HELD = "frequency_held"  # "the unit shows 72 Hz": frequency_hz
    FREQUENCY_LEFT = "frequency_left"  # "it no longer holds"
    CONFIRMED = "confirmed"  # "I have checked it": text names the limit, such as "airflow_low"
    CONDITION_WAIVED = "condition_waived"  # "we go on without it": text is a limit, a colon, why
    PROBE_SEEN_TO = "probe_seen_to"  # the probe of the channel in text was put right
    NOTE = "note"
    STAGE_BEGUN = "stage_begun"  # work on a stage begins: text is the value of a `Stage`
    STAGE_SKIPPED = "stage_skipped"  # text is the value of a `Stage`, a colon, and why
    NITROGEN_ON = "nitrogen_on"  # the supply of dry nitrogen is open to the circuit
    NITROGEN_OFF = "nitrogen_off"  # ... and shut: what is in the circuit stays
    VENTED = "vented"  # nitrogen is let out until the circuit is at the atmosphere
    PUMP_ON = "pump_on"  # the vacuum pump runs
    PUMP_OFF = "pump_off"
    OIL_CHANGED = "oil_changed"  # of the vacuum pump
    VALVE_SHUT = "valve_shut"  # the valve between pump and circuit: the circuit stands by itself
    VALVE_OPENED = "valve_opened"
    LEAK_MENDED = "leak_mended"  # a leak was found and closed; text may say where
    CAUTION_READ = "caution_read"  # the caution of a hazard was read: text is the `Hazard`
    ENTERED = "entered"  # a number nobody's probe measures: text names the `Entry`, value_si it
    WITHDRAWN = "withdrawn"  # the newest typed number of the entry in text was wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What the technician did, said or saw.

    Attributes
    ----------
    kind : MarkKind
    mass_kg : float or None
        Of a charge step, if it was read; negative if recovered.
    frequency_hz : float or None
        Of the compressor, as the unit shows it.
    text : str
        What `kind` says it names: a stage, a limit, a channel, an entry; or a note.
    value_si : float or None
        The number of an entry, in the SI unit of its quantity.
    read_t : float or None
        Of an entry: when it was read, if that was before it was typed; of a frequency: since when
        it has been held, if that was before it was confirmed [s].
    """

    t: float
    kind: MarkKind
    mass_kg: float | None = None
    frequency_hz: float | None = None
    text: str = ""
    value_si: float | None = None
    read_t: float | None = None

    @property
    def seen_t(self) -> float:
        """Time of what it tells [s]: a reading counts from when it was read."""
        return self.t if self.read_t is None else self.read_t


class MarkDetails(TypedDict, total=False):
    """The fields of `Mark` besides time and kind, as keyword arguments."""

    mass_kg: float | None
    frequency_hz: float | None
    text: str
    value_si: float | None
    read_t: float | None
