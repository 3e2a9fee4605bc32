"""What an adapter may offer beside `Source`: to listen without knowing any probe yet.

A source delivers what a job asked for. Before there is a job somebody has to see what comes at all:
an adapter class that can tell offers ``listen``, and the guided ``probes`` screen calls it. It
decodes with the parsers of its source, so that what is shown is what a probe can be given.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, runtime_checkable

from chargeassist.model.job import SourceSpec


@dataclass(frozen=True, slots=True)
class Field:
    """One place in a line or message where a probe's number may stand.

    Attributes
    ----------
    select : str
        What a probe of the job file would say: column, key, path or name; empty where the whole
        line is the number.
    text : str
        As sent.
    number : float or None
        As sent, in the sender's unit; None where no number stands now.
    unit : str
        As sent beside the number; empty where nothing is said.
    """

    select: str
    text: str
    number: float | None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Form:
    """How a line or message is written: the ``format`` and options a source would be given."""

    format: str
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Heard:
    """One line or message.

    Attributes
    ----------
    raw : bytes
        As it came.
    topic : str
        Of MQTT; empty elsewhere.
    form : Form or None
        None where it is in no form that the adapter reads.
    fields : tuple of Field
    retained : bool
        A broker's last known value, not a live one.
    """

    raw: bytes
    topic: str = ""
    form: Form | None = None
    fields: tuple[Field, ...] = ()
    retained: bool = False


class Ear(Protocol):
    """Who listens. All calls are made on the event loop's thread and never block."""

    def heard(self, heard: Heard) -> None:
        """Take one line or message."""
        ...

    def trouble(self, reason: str, raw: bytes = b"") -> None:
        """Hear that something came that is no line or message at all."""
        ...

    def lost(self, reason: str) -> None:
        """Hear that the port or broker cannot be heard; it is tried again."""
        ...

    def back(self) -> None:
        """Hear that it is there."""
        ...


@runtime_checkable
class Listens(Protocol):
    """What an adapter class offers that can hear without knowing a probe."""

    @classmethod
    async def listen(cls, spec: SourceSpec, base: Path, ear: Ear, topics: str = "") -> None:
        """Listen until cancelled; never sends anything a device could act on.

        Parameters
        ----------
        spec : SourceSpec
            Address and options; it has no probes and its format is not looked at.
        base : Path
            Folder that relative paths in it start from.
        ear : Ear
        topics : str
            MQTT topic filter; empty: all. Other adapters pass over it.

        Raises
        ------
        ConfigError
            If the address cannot be used; trouble of the field is told to `ear` instead.
        """
        ...
