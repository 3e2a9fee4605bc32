"""A table of a report, whatever it is printed on."""

from dataclasses import dataclass

NOT_SAID = "not stated"


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a title; `empty` is shown where there are no rows."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = ""
