"""What trying a fault came to: one row of the table."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

LAST_SECOND_S = 1.0
"""What a fault may cost: readings younger than this [s] when it struck."""


class NotPossibleError(Exception):
    """A fault cannot be tried here; says what is missing."""


@dataclass
class Tried:
    """One fault, tried so many times.

    Attributes
    ----------
    times : int
    lost : str
        What was lost, in words.
    told : list of str
        What the user was told, as it was printed; one representative line each.
    problems : list of str
        Anything that must not be: more lost than the last second, a record that contradicts
        itself, a program that ends without words. Empty when all is well.
    """

    fault: str
    times: int = 0
    lost: str = "nothing"
    told: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    seconds: float = 0.0
    not_possible: str = ""

    def expect(self, holds: object, problem: str) -> None:
        """Note `problem` unless `holds`."""
        if not holds:
            self.problems.append(problem)

    def tell(self, said: Sequence[str], *parts: str) -> None:
        """Keep the first line of `said` that has all `parts`; a problem where there is none."""
        for line in said:
            if all(part in line for part in parts):
                text = line.strip()
                if text not in self.told:
                    self.told.append(text)
                return
        self.problems.append(f"nobody was told {' … '.join(parts)!r}; said: {list(said)[-6:]}")


@dataclass(frozen=True)
class Fault:
    """A fault and how it is tried.

    Attributes
    ----------
    attempt : callable
        Called with an empty folder, how often to try, and the row to fill.
    short, full : int
        How often, in the short campaign and in the full one.
    """

    name: str
    attempt: Callable[[Path, int, Tried], None]
    short: int = 1
    full: int = 1


def attempt(fault: Fault, folder: Path, times: int) -> Tried:
    """Try `fault` and return its row; nothing it does is raised."""
    row = Tried(fault.name, times)
    begun = time.monotonic()
    try:
        fault.attempt(folder, times, row)
    except NotPossibleError as exc:
        row.not_possible = str(exc)
    except Exception as exc:  # noqa: BLE001  a campaign goes on and tells
        row.problems.append(f"{type(exc).__name__}: {exc}")
    row.seconds = time.monotonic() - begun
    return row
