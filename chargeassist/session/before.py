"""What went before: for a session that is resumed, or one that is played again."""

from dataclasses import dataclass

from chargeassist.model.channels import Channel
from chargeassist.model.events import VerdictEvent


@dataclass(frozen=True, slots=True, kw_only=True)
class WentBefore:
    """What a session takes over from the record that it goes on from, or plays again.

    Attributes
    ----------
    start_t : float
        Session time to begin at [s]: not 0 when resumed.
    declared : set of Channel
        Channels that need no declaration any more, because the record has them.
    unrecorded : tuple of VerdictEvent
        Verdicts an interruption kept out of the record; recorded before anything else.
    ticked : tuple of float
        Of a replay: session times [s] the recorded session had ticked to, without an event, at
        each of its interruptions.
    """

    start_t: float = 0.0
    declared: frozenset[Channel] = frozenset()
    unrecorded: tuple[VerdictEvent, ...] = ()
    ticked: tuple[float, ...] = ()


NOTHING = WentBefore()
"""A session that begins anew."""
