"""A serial port: how it is opened, why it cannot be used, which ones this machine has."""

import errno
import re
import socket
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol
from urllib.parse import urlsplit

import serial
from serial.tools import list_ports as pyserial_ports
from serial.urlhandler.protocol_socket import Serial as SocketSerial

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
PEEK_BYTES = 64 * 1024


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


class DeviceServer(SocketSerial):
    """A port behind a socket that tells how much waits.

    pyserial's only tells whether anything does, so that each byte would be read by itself.
    """

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting; 1 at the end of the connection."""
        if not super().in_waiting:
            return 0
        own: socket.socket = self._socket  # type: ignore[attr-defined]
        return len(own.recv(PEEK_BYTES, socket.MSG_PEEK)) or 1


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
        made = DeviceServer if self.device.startswith("socket://") else serial.serial_for_url
        port: Port = made(
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
    return plain(_of_device_server(text, device) or f"{device}: {text}", 200)


def _of_device_server(text: str, device: str) -> str:
    """Return what pyserial says of a port on the network, if it does."""
    if "socket disconnected" in text or "reader thread died" in text:
        return f"{device} ended the connection"
    named = f"Could not open port {device}: "
    if not text.startswith(named):
        return ""
    cause = text.removeprefix(named)
    if f"[Errno {errno.ECONNREFUSED}]" in cause:
        return f"{device} refuses the connection: is the device server on, is the port right?"
    if "timed out" in cause:
        return f"{device} does not answer: is the device server on, in this network?"
    return f"{device}: {cause}"


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
    if separator:
        _check_place(name, device)
    frame = options.get("frame", frame)
    match = re.fullmatch(r"([5-8])([NEOMS])(1|1\.5|2)", frame.upper(), re.ASCII)
    if match is None:
        raise ConfigError(
            f"source {name!r}: expected a frame such as 8N1, 8E1 or 7E1, got {plain(frame)!r}"
        )
    baud = whole(options, "baud", baud, 50, 4_000_000)
    return PortSettings(device, baud, int(match[1]), match[2], float(match[3])), options


def _check_place(name: str, device: str) -> None:
    """Refuse what can never be opened in one of pyserial's addresses.

    Raises
    ------
    ConfigError
    """
    handler, _, place = device.partition("://")
    if handler == "hwgrep":
        pattern = place.partition("&")[0]
        try:
            re.compile(pattern)
        except re.error as exc:
            raise ConfigError(
                f"source {name!r}: expected hwgrep:// and a regular expression such as 0403:6001, "
                f"got {plain(pattern, 60)!r} ({exc})"
            ) from exc
    elif handler != "loop" and not _is_host_and_port(device):
        raise ConfigError(
            f"source {name!r}: expected {handler}://host:port, got {shown(device)!r}"
            + ("; a device server takes no account" if "@" in place else "")
        )


def _is_host_and_port(address: str) -> bool:
    try:
        parts = urlsplit(address)
        return bool(parts.hostname and parts.port) and "@" not in parts.netloc
    except ValueError:  # of a port beyond 65535, or that is no number
        return False
