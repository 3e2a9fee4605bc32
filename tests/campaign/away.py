"""A far end that goes and comes back while the program runs, and what that may cost."""

import time
from collections.abc import Callable, Mapping
from pathlib import Path

from tests.campaign.numbered import Recorded, lost_words, oldest_loss_s, too_much
from tests.campaign.tried import Tried
from tests.peers.program import Program

Away = list[tuple[float, float]]
"""From when to when something was away, by ``time.monotonic`` [s]."""


def goes_and_comes_back(
    program: Program,
    row: Tried,
    source: str,
    times: int,
    *,
    take: Callable[[int], None],
    give_back: Callable[[], None],
) -> Away:
    """Take something away so many times, and give it back once the program has said so.

    Parameters
    ----------
    program : Program
        It runs, and tells of `source`.
    row : Tried
    source : str
    times : int
    take : callable
        Called with 0, 1, 2 ...
    give_back : callable
    """
    away = []
    for number in range(times):
        time.sleep(1.0)
        begun = time.monotonic()
        take(number)
        row.expect(program.says_again(f"{source} lost", number, 20.0), "nobody was told")
        time.sleep(0.4 + number % 3)
        give_back()
        row.expect(program.says_again(f"{source} is back", number, 20.0), "not back")
        away.append((begun, time.monotonic()))
    return away


def expect_what_was_sent_between(
    path: Path, row: Tried, sent: Mapping[int, float], away: Away, ended_at: float
) -> Recorded:
    """Return the record, which has to hold what was sent while nothing was away."""
    found = Recorded(path)
    row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
    there = {n: t for n, t in sent.items() if not any(a - 0.5 < t < b for a, b in away)}
    loss_s = oldest_loss_s(there, found.numbers, ended_at)
    row.expect(not too_much(loss_s), f"lost {loss_s:.2f} s while nothing was away")
    row.lost = lost_words([loss_s])
    return found
