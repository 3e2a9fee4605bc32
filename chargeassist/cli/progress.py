"""How far long work has come, on a terminal alone."""

import sys
from collections.abc import Iterable, Iterator
from typing import TypeVar

_T = TypeVar("_T")


def progress(items: Iterable[_T], total: int, word: str) -> Iterator[_T]:
    """Yield `items`, and show on standard error how many of `total` there were.

    Parameters
    ----------
    items : iterable
    total : int
    word : str
        What has become of them: "added".
    """
    from rich.console import Console
    from rich.progress import track

    yield from track(
        items,
        description=word,
        total=total,
        console=Console(stderr=True),
        disable=not sys.stderr.isatty(),
        transient=True,
    )
