"""Text from outside, made fit to show and to keep."""

import re
import unicodedata

# Control, format (bidi overrides, zero width), surrogate, private, unassigned, separators.
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def plain(text: str | bytes, limit: int = 120) -> str:
    """Return `text` without anything a terminal or a reader could act on.

    Control and format characters (escape codes, bidirectional overrides, line breaks) become
    "·"; what is longer than `limit` is cut and ends in "…". Markup is left as it is: screens must
    draw this as text, never parse it.

    Parameters
    ----------
    text : str or bytes
        Bytes are read as UTF-8; what is not UTF-8 becomes "\N{REPLACEMENT CHARACTER}".
    limit : int
        Largest length of the answer, at least 1.
    """
    head = text[: 4 * limit + 4]
    if isinstance(head, bytes):
        head = head.decode("utf-8", errors="replace")
    shown = "".join("·" if unicodedata.category(c) in _HIDDEN else c for c in head)
    return shown if len(shown) <= limit else shown[: limit - 1] + "…"


# C0 and C1 control characters, DEL, marks that turn the direction of writing round, and what stands
# in the name of a file for bytes that are no text: a terminal gets those bytes back.
_OBEYED = dict.fromkeys(
    (
        *(c for c in range(0x20) if chr(c) not in "\n\t"),
        *range(0x7F, 0xA0),
        *(0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)),
        *range(0xD800, 0xE000),
    ),
    "·",
)


def inert(text: str) -> str:
    """Return `text` at full length, without what a terminal obeys; line feeds and tabs stay."""
    return text.translate(_OBEYED)


def storable(text: str) -> str:
    r"""Return `text` as a file in UTF-8 can hold it.

    What stands for bytes of a file's name that are no text is written as "\\udce9", which a reader
    of JSON takes back for the same name.
    """
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


_LOOSE_CREDENTIALS = re.compile(r"\b([a-z][a-z0-9+.-]*:)?\S*@")
_AUTHORITY = re.compile(r"[^/?#\s]*")
_HOST_AND_PORT = re.compile(r"(?:[^:]*|\[[^]]*\])(?::[0-9]{1,5})?")
_OPTIONS = re.compile(r"[a-z_]+=[^&]*(?:&[a-z_]+=[^&]*)*", re.DOTALL)
_OF_THIS_MACHINE = re.compile(r"(?:serial|modbus|recording|simulator):[^:]*")


def without_credentials(text: str, limit: int = 200) -> str:
    """Return `text` made plain, without what stands before the "@" of an address in it.

    An "@" in a path, a topic or an option stays where no password can end at it. Where one could,
    everything before the last "@" goes.
    """
    scheme, slashes, rest = text.partition("//")
    if slashes:
        return plain(f"{scheme}//{rest[_credentials(rest) :]}", limit)
    if _OF_THIS_MACHINE.fullmatch(text):
        return plain(text, limit)
    return plain(_LOOSE_CREDENTIALS.sub(r"\1", text), limit)


def _credentials(rest: str) -> int:
    """Return how many characters of what follows "//" are credentials or could be."""
    authority = _AUTHORITY.match(rest)
    user, at, host = authority.group().rpartition("@") if authority else ("", "", "")
    end = len(user) + len(at)
    last = rest.rfind("@") + 1
    # A password with "/" or "?" in it, wrongly written as it is, must not be half shown.
    if ":" in user + rest[end + len(host) : last] or last <= end:
        return last
    address, _, query = rest[end:].partition("?")
    in_options = "@" not in address and _OPTIONS.fullmatch(query) is not None
    if ":" not in host or (in_options and _HOST_AND_PORT.fullmatch(host)):
        return end
    return last


_JSON_KINDS = {
    "str": "text",
    "int": "whole number",
    "float": "number",
    "bool": "true or false",
    "array": "list",
    "object": "object",
    "null": "null",
}
_NAMED_KINDS = re.compile(r"`((?:%s)(?: \| (?:%s))*)`" % (("|".join(_JSON_KINDS),) * 2))


def json_words(error: Exception) -> str:
    """Return what a reader of JSON says was wrong, with its kinds of value in words.

    "Expected `str | null`, got `int` - at `$.name`" becomes "Expected text or null, got whole
    number - at `$.name`".
    """
    return _NAMED_KINDS.sub(
        lambda named: " or ".join(_JSON_KINDS[kind] for kind in named[1].split(" | ")), str(error)
    )


_FORMULA = frozenset("=+-@\t\r\n＝＋－＠")  # noqa: RUF001  their wide forms count too
_AMOUNT = re.compile(
    r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?(?: ?[a-zA-Z°µ%]+)?"
)


def cell(value: object) -> str:
    """Return a cell that a spreadsheet shows and does not compute.

    A text that a spreadsheet might take for a formula gets an apostrophe in front; a number, alone
    or with a unit, stays as it is. The characters are those of the Open Worldwide Application
    Security Project's page "CSV Injection" (from memory).
    """
    if value is None:
        return ""
    text = str(value)
    if text.lstrip(" \u00a0\u3000")[:1] not in _FORMULA or _AMOUNT.fullmatch(text):
        return text
    return f"'{text}"
