"""Passwords and keys of brokers: where they come from, and what is refused.

A password never stands in an address, because addresses go into the record, and the record goes to
other people. It comes from an environment variable of this program
(``password_env=CHARGEASSIST_VAN``) or from the system's keyring (``password_keyring=yes``), where
its entry is named after the broker: service ``chargeassist``, name ``user@host:port``.

A job file or a record may come from somebody else and name a broker of theirs. So a variable must
say by its name that it is for this program, and an entry of the keyring is only ever sent to the
broker it was made for.
"""

import os
import re
import stat
from collections.abc import Mapping
from pathlib import Path

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain
from chargeassist_adapters.address import yes_or_no

PREFIX = "CHARGEASSIST_"
SERVICE = "chargeassist"
OPTIONS = {
    "password_env": f"environment variable that holds the password; begins with {PREFIX}",
    "password_keyring": "yes: the password is in the system's keyring",
}

_VARIABLE = re.compile(rf"{PREFIX}[A-Za-z0-9_]{{1,60}}")


def password_of(
    name: str, user: str | None, host: str, port: int, options: Mapping[str, str]
) -> str | None:
    """Return the password of `user` at a broker; None where neither option asks for one.

    Parameters
    ----------
    name : str
        Of the source; stands in errors.
    user : str or None
    host : str
    port : int
    options : Mapping[str, str]
        ``password_env`` and ``password_keyring`` are looked at.

    Raises
    ------
    ConfigError
        If it is asked for and cannot be found. No error shows a password.
    """
    variable = options.get("password_env")
    kept = yes_or_no(options, "password_keyring", default=False)
    if variable is None and not kept:
        return None
    if variable is not None and kept:
        raise ConfigError(f"source {name!r}: password_env and password_keyring: give one")
    if user is None:
        raise ConfigError(f"source {name!r}: a password needs a user: mqtt://user@host")
    if variable is not None:
        return _from_environment(name, variable)
    return _from_keyring(name, f"{user}@{host}:{port}")


def _from_environment(name: str, variable: str) -> str:
    if not _VARIABLE.fullmatch(variable):
        raise ConfigError(
            f"source {name!r}: expected password_env to begin with {PREFIX}, got "
            f"{plain(variable, 60)!r}: a job file of somebody else's must not send other secrets "
            "of this machine to a broker"
        )
    password = os.environ.get(variable)
    if password is None:
        raise ConfigError(
            f"source {name!r}: environment variable {variable!r} (password_env) is not set"
        )
    return password


def _from_keyring(name: str, entry: str) -> str:
    entry = plain(entry, 200)
    try:
        import keyring
        from keyring.errors import KeyringError
    except ImportError as exc:
        raise ConfigError(
            f"source {name!r}: password_keyring needs keyring, which is not installed; expected: "
            "pip install 'chargeassist[keyring]', or password_env"
        ) from exc
    try:
        password = keyring.get_password(SERVICE, entry)
    except (KeyringError, OSError) as exc:
        raise ConfigError(
            f"source {name!r}: the system's keyring cannot be asked ({type(exc).__name__}); "
            "unlock it, or use password_env"
        ) from exc
    if password is None:
        raise ConfigError(
            f"source {name!r}: the keyring has no password for {entry}; "
            f"put it there: keyring set {SERVICE} {entry}"
        )
    return password


def check_key_file(name: str, path: Path) -> None:
    """Refuse a file with a private key that everybody on this machine may read or change.

    A group may read it, as is common for keys a machine's programs share; Windows has no such bits.

    Raises
    ------
    ConfigError
        Also if it cannot be looked at.
    """
    try:
        mode = path.stat().st_mode
    except OSError as exc:
        raise ConfigError(
            f"source {name!r}: the key file {plain(str(path))} cannot be read ({exc.strerror})"
        ) from exc
    if os.name != "nt" and mode & (stat.S_IRWXO | stat.S_IWGRP):
        raise ConfigError(
            f"source {name!r}: others may read or change the key file {plain(str(path))} (mode "
            f"{mode & 0o777:o}); expected 600 or 640. Have a new key made if it may have been read"
        )
