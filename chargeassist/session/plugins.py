"""Sources by name: names without importing, one import when one is asked for."""

import re
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path

from chargeassist.model.errors import SourceError, UnknownSourceError
from chargeassist.model.job import SourceSpec
from chargeassist.model.text import plain
from chargeassist.session.source import Source

GROUP = "chargeassist.sources"
"""Entry-point group an adapter's distribution registers its class in, by URL scheme."""


def source_names() -> tuple[str, ...]:
    """Return the URL schemes that have an adapter, sorted; imports none of them."""
    return tuple(sorted({point.name for point in entry_points(group=GROUP)}))


def source_class(scheme: str) -> type[Source]:
    """Import and return the adapter class for `scheme`.

    Raises
    ------
    UnknownSourceError
        If no installed distribution offers it; names those that are there.
    SourceError
        If its module cannot be imported, or is not a Source.
    """
    points: list[EntryPoint] = [p for p in entry_points(group=GROUP) if p.name == scheme]
    if not points:
        if scheme.startswith("/dev/") or re.fullmatch(r"COM\d{1,3}", scheme, re.IGNORECASE):
            raise UnknownSourceError(
                f"{plain(scheme, 80)!r} is a port, not an address: write serial:{plain(scheme, 80)}"
                ", or modbus: before it where a Modbus device is at it"
            )
        known = ", ".join(f"{name}:" for name in source_names()) or "none"
        raise UnknownSourceError(
            f"no adapter for {plain(scheme, 40) + ':'!r}; installed ones are {known}"
        )
    try:
        cls = points[0].load()
    except (ImportError, AttributeError) as error:  # no such module; no such class in it
        raise SourceError(
            f"the adapter for {scheme!r} cannot be imported: {error}; "
            "install chargeassist again with its dependencies"
        ) from error
    if not (isinstance(cls, type) and hasattr(cls, "from_spec") and hasattr(cls, "run")):
        raise SourceError(f"{points[0].value} is not a Source: it lacks from_spec or run")
    return cls


def make_source(spec: SourceSpec, base: Path) -> Source:
    """Return the source that `spec` of a job file describes.

    Parameters
    ----------
    spec : SourceSpec
    base : Path
        Folder that relative paths in it start from.

    Raises
    ------
    UnknownSourceError, SourceError, ConfigError
        As `source_class` and the adapter's own ``from_spec``.
    """
    return source_class(spec.scheme).from_spec(spec, base)
