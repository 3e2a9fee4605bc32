"""A pipe clamp that was just put on and still goes from air temperature to that of its pipe."""

import math
from collections.abc import Mapping
from typing import Final

from chargeassist.stream.probe_findings import ProbeFinding, Severity
from chargeassist.stream.probe_neighbours import ProbeNeighbours
from chargeassist.stream.probe_watch import SLOT_S, ProbeWatch

WINDOW_S: Final = 60.0
BEGINS_K: Final = 1.5
GOES_K: Final = 0.3
"""A clamp creeps when, alone, it has gone `BEGINS_K` farther from outdoor air in `WINDOW_S` [s] and
still goes `GOES_K` in two slots [K]."""

ON_S: Final = 30.0
LONG_K: Final = 0.6
LONG_TIMES: Final = 2.0
"""It creeps on while it moves by `GOES_K` beside the air in `ON_S` [s]. It has crept too long when
it still moves by `LONG_K` [K] at `ON_S` after its limit, or after `LONG_TIMES` its limit [1]: a lag
of 45 s is not told after 90 s, one of 60 s is (on invented curves from 8 K away)."""

Creep = tuple[bool, float, Severity, Mapping[str, float]]


def creeping(
    near: ProbeNeighbours,
    t: float,
    watch: ProbeWatch,
    air_k: float,
    known: ProbeFinding | None,
    limit_s: float,
) -> Creep | None:
    """Return whether a clamp creeps now, since when, how grave that is, and its figures.

    Parameters
    ----------
    near : ProbeNeighbours
    t : float
        [s].
    watch : ProbeWatch
    air_k : float
        Outdoor air [K].
    known : ProbeFinding or None
        What was found before, if it crept.
    limit_s : float
        A clamp that creeps for longer has bad contact [s].

    Returns
    -------
    Creep or None
        None where it is not known what it did before.
    """
    now, was, lately = (near.back(watch, ago_s) for ago_s in (0.0, WINDOW_S, 2.0 * SLOT_S))
    if now is None or was is None or lately is None:
        return None
    figures = {"change_k": now - was, "seconds_s": WINDOW_S, "limit_s": limit_s}
    if known is None:
        away = abs(now - air_k) > abs(was - air_k) and abs(now - was) >= BEGINS_K
        so = away and abs(now - lately) >= GOES_K
        so = so and (near.alone(t, watch, WINDOW_S) or near.comes_in(watch, air_k))
        return so, t - near.one_way_s(watch, now - was), Severity.NOTE, figures
    # A gust meanwhile is no end: it would begin anew, and never have lasted too long.
    since_t, severity = known.since_t, known.severity
    on_k = math.copysign(1.0, known.figures["change_k"]) * near.beside_air_k(watch, ON_S)
    so = on_k >= GOES_K and (near.undisturbed(since_t) or near.comes_in(watch, air_k, 0.5))
    lasts_s = t - since_t
    if (on_k >= LONG_K and lasts_s >= limit_s + ON_S) or lasts_s >= LONG_TIMES * limit_s:
        severity = Severity.CAUTION
    return so, since_t, severity, figures
