"""Ed25519 signatures in the form OpenSSH writes, so that ``ssh-keygen`` alone can check them.

The form is that of PROTOCOL.sshsig in the OpenSSH sources: a signature over the SHA-512 of the
message, bound to a namespace, in armour. Keys are Ed25519 (RFC 8032) in OpenSSH's own files.
"""

import base64
import hashlib
import struct
from typing import TYPE_CHECKING

from chargeassist.model.errors import RecordError
from chargeassist.model.text import plain
from chargeassist.qa.extras import extra

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

NAMESPACE = "chargeassist-archive"

_MAGIC = b"SSHSIG"
_BEGIN = "-----BEGIN SSH SIGNATURE-----"
_END = "-----END SSH SIGNATURE-----"
_KEY_TYPE = b"ssh-ed25519"
_KEY_BYTES = 32
_HASH = b"sha512"
_LINE = 70


def sign(message: bytes, key: "Ed25519PrivateKey") -> str:
    """Return the armoured signature of `message`; the same each time (RFC 8032)."""
    blob = (
        _MAGIC
        + struct.pack(">I", 1)
        + _string(public_blob(key.public_key().public_bytes_raw()))
        + _string(NAMESPACE.encode())
        + _string(b"")
        + _string(_HASH)
        + _string(_string(_KEY_TYPE) + _string(key.sign(_signed(message))))
    )
    return _armoured(blob)


def signer_of(message: bytes, armoured: str) -> bytes:
    """Return the raw public key (32 bytes) that signed `message`.

    Raises
    ------
    RecordError
        If the text is no signature of this kind, or not one of `message`.
    ConfigError
        If the library that checks it is not installed.
    """
    try:
        public, signature = _parsed(_unarmoured(armoured))
    except (ValueError, struct.error) as exc:
        raise RecordError(
            f"expected an OpenSSH signature by an Ed25519 key for {NAMESPACE}, got none ({exc})"
        ) from exc
    with extra("qa", "checking a signature"):
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, _signed(message))
    except (InvalidSignature, ValueError) as exc:
        raise RecordError("the signature does not belong to what was signed") from exc
    return public


def public_blob(public: bytes) -> bytes:
    """Return a raw public key in the wire form of SSH."""
    return _string(_KEY_TYPE) + _string(public)


def public_line(public: bytes, comment: str) -> str:
    """Return a public key as the line of an OpenSSH ``.pub`` file."""
    return f"ssh-ed25519 {base64.b64encode(public_blob(public)).decode()} {comment}\n"


def public_of_line(text: str) -> tuple[bytes, str]:
    """Return (raw public key, comment) of the line of an OpenSSH ``.pub`` file.

    Raises
    ------
    RecordError
        If it is none of an Ed25519 key.
    """
    kind, _, rest = text.strip().partition(" ")
    coded, _, comment = rest.partition(" ")
    expected = 'expected the line of an OpenSSH public key file, "ssh-ed25519 AAAA... NAME"'
    if "PRIVATE KEY" in text[:100]:
        raise RecordError(f"{expected}, got a private key; take the file that ends in .pub")
    if kind.encode() != _KEY_TYPE:
        got = f"{plain(kind, 40)!r}" if kind else "nothing"
        raise RecordError(
            f"{expected}, got {got}; archives are signed with Ed25519 keys only, such as "
            "ssh-keygen -t ed25519 or chargeassist keys new NAME makes"
        )
    try:
        of_kind, public = _strings(base64.b64decode(coded, validate=True), 2)
    except (ValueError, struct.error) as exc:
        raise RecordError(
            f"{expected}, got one that is cut off or altered; have the file sent again"
        ) from exc
    if (of_kind, len(public)) != (_KEY_TYPE, _KEY_BYTES):
        raise RecordError(f"{expected}, got another kind of key under that name")
    return public, comment


def fingerprint(public: bytes) -> str:
    """Return the fingerprint of a raw public key as ``ssh-keygen -l`` shows it."""
    digest = hashlib.sha256(public_blob(public)).digest()
    return "SHA256:" + base64.b64encode(digest).decode().rstrip("=")


def _signed(message: bytes) -> bytes:
    return (
        _MAGIC
        + _string(NAMESPACE.encode())
        + _string(b"")
        + _string(_HASH)
        + _string(hashlib.sha512(message).digest())
    )


def _string(data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + data


def _armoured(blob: bytes) -> str:
    text = base64.b64encode(blob).decode()
    lines = [text[at : at + _LINE] for at in range(0, len(text), _LINE)]
    return "\n".join([_BEGIN, *lines, _END]) + "\n"


def _unarmoured(text: str) -> bytes:
    blob = base64.b64decode("".join(text.split("\n")[1:-2]), validate=True)
    if text != _armoured(blob):
        raise ValueError("not in the form OpenSSH writes")
    return blob


def _parsed(blob: bytes) -> tuple[bytes, bytes]:
    """Return (raw public key, raw signature) of the blob inside the armour."""
    if blob[:10] != _MAGIC + struct.pack(">I", 1):
        raise ValueError("another version")
    key, space, reserved, digest, signature = _strings(blob[10:], 5)
    kind, public = _strings(key, 2)
    signed_by, raw = _strings(signature, 2)
    expected = (_KEY_TYPE, _KEY_TYPE, NAMESPACE.encode(), b"", _HASH)
    if (kind, signed_by, space, reserved, digest) != expected or len(public) != _KEY_BYTES:
        raise ValueError("another kind of key, hash or namespace")
    return public, raw


def _strings(data: bytes, count: int) -> list[bytes]:
    found = []
    for _ in range(count):
        (length,) = struct.unpack(">I", data[:4])
        if len(data) < 4 + length:
            raise ValueError("it is cut off")
        found.append(data[4 : 4 + length])
        data = data[4 + length :]
    if data:
        raise ValueError("something follows")
    return found
