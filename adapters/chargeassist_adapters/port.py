"""A serial port: how it is opened, why it cannot be used, which ones this machine has."""

import errno
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import serial
from serial.tools import list_ports as pyserial_ports

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import SourceSpec
from chargeassist.model.text import plain
from chargeassist_adapters.address import read_options, shown, source_name, whole

if sys.platform == "win32":
    PORT_ERRORS: tuple[type[Exception], ...] = (OSError, ValueError)
else:
    import termios

    # A port that vanishes while it is set up or flushed raises termios.error, which is no OSError.
    PORT_ERRORS = (OSError, ValueError, termios.error)

URL_HANDLERS = ("loop", "socket", "rfc2217", "hwgrep")
READ_TIMEOUT_S = 0.1


class Port(Protocol):
    """The part of a pyserial port that is used."""

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting."""
        ...

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes, fewer or none after the timeout."""
        ...

    def close(self) -> None:
        """Give the port back."""
        ...


@dataclass(frozen=True, slots=True)
class PortSettings:
    """How a port is opened."""

    device: str
    baud: int
    bytesize: int
    parity: str
    stopbits: float

    def open(self) -> Port:
        """Open the port; raises one of ``PORT_ERRORS``."""
        port: Port = serial.serial_for_url(
            self.device,
            baudrate=self.baud,
            bytesize=self.bytesize,
            parity=self.parity,
            stopbits=self.stopbits,
            timeout=READ_TIMEOUT_S,
            # Two readers on one port get half the bytes each.
            exclusive=True,
        )
        return port


def why(exc: Exception, device: str) -> str:
    """Return in one clause why a port cannot be used and what to do."""
    text = str(exc)
    number = getattr(exc, "errno", None)
    if number is None and exc.args:  # termios.error
        number = exc.args[0]
    if number == errno.ENOENT or "FileNotFoundError" in text:
        return f"no port {device}: is the adapter plugged in?"
    if "exclusively lock" in text or number == errno.EBUSY:
        return f"{device} is in use by another program"
    if number == errno.EACCES or "PermissionError" in text:
        return f"{device} may not be opened: in use, or your account may not use serial ports"
    if number in (errno.EIO, errno.ENXIO, errno.ENODEV) or "returned no data" in text:
        return f"{device} was unplugged"
    if number == errno.EINVAL:
        return f"{device} does not take this baud or frame (a pseudo-terminal takes no parity)"
    return plain(f"{device}: {text}", 200)


def list_ports() -> tuple[tuple[str, str], ...]:
    """Return (device, description) of each serial port of this machine, in order of device."""
    found = []
    for port in pyserial_ports.comports():
        about = [port.description or "", port.hwid or ""]
        words = " ".join(dict.fromkeys(w for w in about if w and w != "n/a"))
        found.append((plain(port.device), plain(words) or "no description"))
    return tuple(sorted(found))


def read_port(
    spec: SourceSpec,
    known: Mapping[str, str],
    *,
    handlers: tuple[str, ...] = URL_HANDLERS,
    baud: int = 9600,
    frame: str = "8N1",
) -> tuple[PortSettings, dict[str, str]]:
    """Return how the port of an address is opened, and the options of that address.

    Parameters
    ----------
    spec : SourceSpec
        Its address: scheme, ":", device, and options behind "?".
    known : Mapping[str, str]
        Name and meaning of each option of the adapter; ``baud`` and ``frame`` are looked at here.
    handlers : tuple of str
        Those of pyserial's addresses that can be used.
    baud, frame
        Where the options do not say [baud].

    Raises
    ------
    ConfigError
    """
    name = source_name(spec)
    device, _, query = spec.url.partition(":")[2].partition("?")
    options = read_options(spec, query, known)
    handler, separator, _ = device.partition("://")
    if not device or (separator and handler not in handlers):
        offered = ", ".join(f"{h}://" for h in handlers)
        raise ConfigError(
            f"source {name!r}: expected {spec.scheme}: and a device such as /dev/ttyUSB0 or COM3, "
            f"or {offered}; got {shown(device)!r}"
        )
    frame = options.get("frame", frame)
    match = re.fullmatch(r"([5-8])([NEOMS])(1|1\.5|2)", frame.upper(), re.ASCII)
    if match is None:
        raise ConfigError(
            f"source {name!r}: expected a frame such as 8N1, 8E1 or 7E1, got {plain(frame)!r}"
        )
    baud = whole(options, "baud", baud, 50, 4_000_000)
    return PortSettings(device, baud, int(match[1]), match[2], float(match[3])), options
