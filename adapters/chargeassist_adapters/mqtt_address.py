"""Addresses of MQTT brokers: host, account, TLS; see ``mqtt_probe`` for the options."""

import ssl
from pathlib import Path
from urllib.parse import unquote, urlsplit

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain
from chargeassist_adapters.account import OPTIONS as PASSWORD_OPTIONS
from chargeassist_adapters.account import PREFIX, check_key_file, password_of
from chargeassist_adapters.address import shown, whole, yes_or_no
from chargeassist_adapters.mqtt_link import Broker

CONNECTION_OPTIONS = {
    "tls": "yes or no",
    "ca": "file of the authority's certificate",
    "cert": "file of the client certificate",
    "key": "file of its key",
    **PASSWORD_OPTIONS,
    "keepalive": "seconds, 5 if not given",
    "client_id": "name shown to the broker",
}


def broker_of(name: str, address: str, options: dict[str, str], base: Path) -> Broker:
    """Return how to connect to the broker at `address`.

    Parameters
    ----------
    name : str
        Of the source, for messages.
    address : str
        Without its query.
    options : dict
        Those of `CONNECTION_OPTIONS` that were given.
    base : Path
        Folder that relative file names start from.

    Raises
    ------
    ConfigError
        If it is no such address, a file or a password is missing, or may be read by everybody.
    """
    expected = f"source {name!r}: expected mqtt://host:port, got {shown(address)!r}"
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError as exc:
        # The cause would quote the address with its password.
        raise ConfigError(expected) from (None if "@" in address else exc)
    if parts.scheme not in ("mqtt", "mqtts") or not host:
        raise ConfigError(expected)
    if parts.password is not None:
        raise ConfigError(
            f"source {name!r}: expected no password in the address, which goes into the record; "
            f"password_env names a variable that holds it, such as {PREFIX}BROKER"
        )
    if parts.path not in ("", "/") or parts.fragment:
        raise ConfigError(f"{expected}; a topic belongs to its probe, not to the address")
    secure = parts.scheme == "mqtts" or "ca" in options
    if secure and not yes_or_no(options, "tls", default=True):
        raise ConfigError(
            f"source {name!r}: tls=no contradicts mqtts:// and ca=; for a connection that anyone "
            "on the way can read and change, write mqtt:// and leave ca= out"
        )
    secure = yes_or_no(options, "tls", default=secure)
    if not secure and ("cert" in options or "key" in options):
        raise ConfigError(f"source {name!r}: cert= and key= are for TLS; expected tls=yes too")
    user = unquote(parts.username) if parts.username else None
    port = port or (8883 if secure else 1883)
    return Broker(
        host=host,
        port=port,
        user=user,
        password=password_of(name, user, host, port, options),
        tls=_tls(name, options, base) if secure else None,
        keepalive_s=whole(options, "keepalive", 5, 2, 3600),
        client_id=options.get("client_id"),
    )


def _tls(name: str, options: dict[str, str], base: Path) -> ssl.SSLContext:
    files = {k: base / options[k] for k in ("ca", "cert", "key") if k in options}
    if "key" in files and "cert" not in files:
        raise ConfigError(f"source {name!r}: key= belongs to a client certificate; give cert= too")
    if "cert" in files:
        check_key_file(name, files.get("key", files["cert"]))
    try:
        context = ssl.create_default_context(cafile=files.get("ca"))
        if "cert" in files:
            # Without this OpenSSL would ask for a passphrase on the terminal, over the screen.
            context.load_cert_chain(files["cert"], files.get("key"), password=_no_passphrase)
    except (OSError, ValueError) as exc:
        given = ", ".join(f"{k}={plain(str(v))}" for k, v in files.items()) or "none"
        raise ConfigError(
            f"source {name!r}: expected certificate files in PEM, got {given}: {plain(str(exc))}"
        ) from exc
    return context


def _no_passphrase() -> str:
    raise ValueError("the key is encrypted; expected one without a passphrase, in mode 600")
