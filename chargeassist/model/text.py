"""Text that came from outside, made fit to be shown and kept."""

import unicodedata

# Control, format (bidi overrides, zero width), surrogate, private, unassigned, separators.
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def plain(text: str | bytes, limit: int = 120) -> str:
    """Return `text` without anything a terminal or a reader could obey.

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
