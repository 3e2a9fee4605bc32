"""Signing keys: made, kept in the user's configuration folder, and known by name.

``NAME.key`` is a private key and stays on this machine, readable by its owner only; ``NAME.pub`` is
a public key, one's own or one that is trusted. Both are OpenSSH's own files.
"""

import errno
import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from platformdirs import user_config_path

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.text import plain
from chargeassist.qa.extras import extra
from chargeassist.qa.sshsig import fingerprint, public_line, public_of_line

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,59}")
_MOST_BYTES = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownKey:
    """A key of the folder.

    Attributes
    ----------
    name : str
    public : bytes
        32 bytes.
    own : bool
        Whether the private key is here too.
    """

    name: str
    public: bytes
    own: bool

    @property
    def fingerprint(self) -> str:
        """As ``ssh-keygen -l`` shows it."""
        return fingerprint(self.public)


def keys_folder() -> Path:
    """Return the folder keys are kept in."""
    return user_config_path("chargeassist") / "keys"


def new_key(name: str, folder: Path) -> KnownKey:
    """Make the key pair `name`.

    Raises
    ------
    ConfigError
        If the name is taken or cannot be one, or the folder cannot be written.
    """
    _check_name(name)
    with extra("qa", "a signing key"):
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
        from cryptography.hazmat.primitives.serialization import (
            Encoding,
            NoEncryption,
            PrivateFormat,
        )
    key = Ed25519PrivateKey.generate()
    data = key.private_bytes(Encoding.PEM, PrivateFormat.OpenSSH, NoEncryption())
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _check_free(folder / f"{name}.pub")
        private = folder / f"{name}.key"
        handle = os.open(private, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            public = key.public_key().public_bytes_raw()
            _write_public(folder / f"{name}.pub", public_line(public, name))
        except OSError:
            private.unlink(missing_ok=True)  # half a pair would only be in the way
            raise
    except FileExistsError as exc:
        raise ConfigError(f"{folder}: a key {name!r} already exists; choose another name") from exc
    except OSError as exc:
        raise ConfigError(f"{folder}: a key cannot be kept there ({exc.strerror})") from exc
    return KnownKey(name=name, public=public, own=True)


def trust(path: Path, name: str, folder: Path) -> KnownKey:
    """Keep the public key of the file `path` under `name`: what it signed is known by that name.

    Raises
    ------
    ConfigError
        If the file holds none, or the name is taken or cannot be one.
    """
    _check_name(name)
    public = _read_public(path)
    for key in known_keys(folder):
        if key.public == public:
            raise ConfigError(f"{path}: that key is known already, as {key.name!r}")
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _check_free(folder / f"{name}.key")  # a stranger's would be called one's own
        _write_public(folder / f"{name}.pub", public_line(public, name))
    except FileExistsError as exc:
        raise ConfigError(f"{folder}: a key {name!r} already exists; choose another name") from exc
    except OSError as exc:
        raise ConfigError(f"{folder}: a key cannot be kept there ({exc.strerror})") from exc
    return KnownKey(name=name, public=public, own=False)


def known_keys(folder: Path) -> tuple[KnownKey, ...]:
    """Return every key of the folder, by name.

    Raises
    ------
    ConfigError
        If a file of it holds no key.
    """
    if not folder.is_dir():
        return ()
    return tuple(
        KnownKey(name=path.stem, public=_read_public(path), own=path.with_suffix(".key").exists())
        for path in sorted(folder.glob("*.pub"))
    )


def private_key(name: str, folder: Path) -> "Ed25519PrivateKey":
    """Return the private key `name`.

    Raises
    ------
    ConfigError
        If there is none, others than its owner may read it, or it is no unencrypted Ed25519 key.
    """
    _check_name(name)
    path = folder / f"{name}.key"
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            data = file.read(_MOST_BYTES)
    except OSError as exc:
        own = ", ".join(key.name for key in known_keys(folder) if key.own) or "none yet"
        raise ConfigError(
            f"{path}: no such key can be read ({exc.strerror}); keys of yours: {own}. "
            f"Make one with: chargeassist keys new {name}"
        ) from exc
    if os.name != "nt" and mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise ConfigError(
            f"{path}: others may read this private key (mode {mode & 0o777:o}), so it may be "
            f"somebody else's by now; expected mode 600. If you know it was not read: chmod 600"
        )
    with extra("qa", "signing"):
        from cryptography.exceptions import UnsupportedAlgorithm
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
        from cryptography.hazmat.primitives.serialization import load_ssh_private_key
    try:
        key = load_ssh_private_key(data, password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as exc:
        raise ConfigError(f"{path}: expected an unencrypted OpenSSH private key ({exc})") from exc
    if not isinstance(key, Ed25519PrivateKey):
        raise ConfigError(f"{path}: expected an Ed25519 key, got another kind")
    return key


def _check_name(name: str) -> None:
    if not _NAME.fullmatch(name):
        raise ConfigError(
            f"expected a key name of 1 to 60 letters, digits, '.', '_' and '-', got {plain(name)!r}"
        )


def _check_free(path: Path) -> None:
    if path.exists():
        raise FileExistsError(errno.EEXIST, "it exists", str(path))


def _read_public(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return public_of_line(file.read(_MOST_BYTES).decode())[0]
    except OSError as exc:
        raise ConfigError(f"{path}: cannot be read ({exc.strerror})") from exc
    except (RecordError, UnicodeDecodeError) as exc:
        raise ConfigError(f"{path}: {exc}") from exc


def _write_public(path: Path, line: str) -> None:
    with path.open("x", encoding="utf-8", newline="\n") as file:
        file.write(line)
