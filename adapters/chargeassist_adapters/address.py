"""Addresses and options of sources: read strictly, shown without credentials."""

import re
from collections.abc import Mapping
from urllib.parse import parse_qsl

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import SourceSpec
from chargeassist.model.text import plain, without_credentials

_YES_NO = {"yes": True, "true": True, "1": True, "on": True}
_YES_NO |= {"no": False, "false": False, "0": False, "off": False}


def shown(address: str) -> str:
    """Return `address` fit for screens and records: no credentials, no options, plain."""
    return plain(without_credentials(address, len(address) + 1).partition("?")[0])


def source_name(spec: SourceSpec) -> str:
    """Return the name of the source; one that is an address loses its credentials."""
    return shown(spec.name) if "//" in spec.name else spec.name


def read_options(spec: SourceSpec, query: str, known: Mapping[str, str]) -> dict[str, str]:
    """Return the options of `spec` and of the query of its address together.

    Parameters
    ----------
    spec : SourceSpec
    query : str
        What follows "?" in the address.
    known : Mapping[str, str]
        Name and meaning of each option of the adapter.

    Raises
    ------
    ConfigError
        For an option that is unknown or given twice. Values are not shown: they may be secret.
    """
    try:
        # A plus in a file's name is a plus; only forms of web pages write a blank with it.
        plus_kept = query.replace("+", "%2B")
        pairs = parse_qsl(plus_kept, keep_blank_values=True, strict_parsing=bool(query))
    except ValueError as exc:
        raise ConfigError(
            f"source {plain(source_name(spec))!r}: expected option=value after '?' in the address"
        ) from exc
    options: dict[str, str] = {}
    for name, value in [*spec.options.items(), *pairs]:
        if name not in known:
            offered = "; ".join(f"{k} ({meaning})" for k, meaning in known.items())
            raise ConfigError(
                f"source {plain(source_name(spec))!r}: unknown option {plain(name, 40)!r}; "
                f"known ones: {offered}"
            )
        if name in options:
            raise ConfigError(
                f"source {plain(source_name(spec))!r}: option {name!r} is given twice"
            )
        options[name] = value
    return options


def whole(options: Mapping[str, str], name: str, default: int, low: int, high: int) -> int:
    """Return option `name` as a whole number between `low` and `high`.

    Raises
    ------
    ConfigError
    """
    text = options.get(name)
    if text is None:
        return default
    if not (text.isascii() and text.isdigit() and len(text) <= 12 and low <= int(text) <= high):
        raise ConfigError(
            f"option {name!r}: expected a whole number from {low} to {high}, got {plain(text)!r}"
        )
    return int(text)


def seconds(
    options: Mapping[str, str], name: str, default: float, low: float, high: float
) -> float:
    """Return option `name` as a number of seconds between `low` and `high` [s].

    Raises
    ------
    ConfigError
    """
    text = options.get(name)
    if text is None:
        return default
    if not (re.fullmatch(r"\d{1,6}(\.\d{1,6})?", text, re.ASCII) and low <= float(text) <= high):
        raise ConfigError(
            f"option {name!r}: expected seconds from {low:g} to {high:g}, got {plain(text)!r}"
        )
    return float(text)


def yes_or_no(options: Mapping[str, str], name: str, *, default: bool) -> bool:
    """Return option `name` as a yes or no.

    Raises
    ------
    ConfigError
    """
    text = options.get(name)
    if text is None:
        return default
    if text.lower() not in _YES_NO:
        raise ConfigError(f"option {name!r}: expected yes or no, got {plain(text)!r}")
    return _YES_NO[text.lower()]
