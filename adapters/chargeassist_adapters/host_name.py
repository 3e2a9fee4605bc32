"""Addresses of a host by its name, looked up where nothing waits for the answer at the end.

A look-up cannot be interrupted, and without a network it takes as long as the system's resolver
tries. asyncio asks it in its own pool, whose threads are waited for before a program may end.
"""

import asyncio
import contextlib
import ipaddress
import socket
import threading

from chargeassist.model.text import plain


async def addresses_of(host: str, port: int) -> tuple[str, ...]:
    """Return the addresses of `host`, in the order in which they are to be tried.

    Raises
    ------
    OSError
        As `socket.getaddrinfo`.
    """
    with contextlib.suppress(ValueError):  # a number needs nobody to be asked
        return (str(ipaddress.ip_address(host)),)
    loop = asyncio.get_running_loop()
    found: asyncio.Future[tuple[str, ...]] = loop.create_future()

    def tell(addresses: tuple[str, ...], error: OSError | None) -> None:
        if found.done():
            return  # nobody waits any more
        if error is None:
            found.set_result(addresses)
        else:
            found.set_exception(error)

    def look_up() -> None:
        addresses: tuple[str, ...] = ()
        error: OSError | None = None
        try:
            infos = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
            addresses = tuple(dict.fromkeys(str(info[4][0]) for info in infos))
        except OSError as exc:
            error = exc
        except UnicodeError:  # a label of a name that is too long, or empty
            error = socket.gaierror(socket.EAI_NONAME, "no name of a host")
        with contextlib.suppress(RuntimeError):  # the program has ended meanwhile
            loop.call_soon_threadsafe(tell, addresses, error)

    threading.Thread(target=look_up, name=f"look up {plain(host, 40)}", daemon=True).start()
    return await found
