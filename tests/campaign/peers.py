"""Far ends: a broker and an authority, where their programs are installed, and a slow wire."""

import shutil
import socket
import threading
import time
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from tests.campaign.tried import NotPossibleError
from tests.peers.broker import EVERYBODY, Broker
from tests.peers.certificates import Authority


def _program(name: str, package: str) -> str:
    path = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")
    if path is None:
        raise NotPossibleError(f"{name} is not installed (Debian package {package})")
    return path


def broker_in(folder: Path, config: str = EVERYBODY) -> Broker:
    """Return a broker whose files lie in `folder`, not yet started."""
    return Broker(_program("mosquitto", "mosquitto"), folder, config)


def authority_in(folder: Path) -> Authority:
    """Return a new certificate authority whose files lie in `folder`."""
    return Authority(_program("openssl", "openssl"), folder)


class SlowWire:
    """Passes a TCP connection on, `delay_s` late and in small pieces."""

    def __init__(self, to_port: int, delay_s: float) -> None:
        self._to_port = to_port
        self._delay_s = delay_s
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._server.getsockname()[1])
        self._sockets: list[socket.socket] = [self._server]

    def __enter__(self) -> Self:
        """Listen."""
        threading.Thread(target=self._accept, daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Cut it."""
        for each in self._sockets:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
            each.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._server.accept()
                far = socket.create_connection(("127.0.0.1", self._to_port))
                self._sockets += [near, far]
                for ends in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=ends, daemon=True).start()

    def _carry(self, source: socket.socket, target: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(64):
                time.sleep(self._delay_s)
                target.sendall(data)
        for each in (source, target):
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
