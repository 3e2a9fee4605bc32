"""What a trainee may see of a moment: values and what was done, and nothing the tool makes of it.

A screen that is given only this cannot leak a verdict, whatever it draws.
"""

from dataclasses import replace
from typing import Final

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import Action, Advice, Stage
from chargeassist.stream.facts import (
    ChannelFacts,
    ChannelState,
    HoldFacts,
    Measured,
    SettleState,
    Settling,
)

_FACTS_NOT_VERDICTS: Final = frozenset(
    {
        "source_lost",
        "board_lost",
        "record_failing",
        "clock_set",
        "machine_slept",
        "program_held",
    }
)


def veil(snapshot: Snapshot, called: Measured | None = None) -> Snapshot:
    """Return `snapshot` without the tool's verdicts.

    Parameters
    ----------
    snapshot : Snapshot
    called : Measured or None
        What the trainee has called settled; stands where the tool's own would.

    Returns
    -------
    Snapshot
        With live values, their change, the ledger's amounts, the clock and the target. Gone are the
        settled state, its forecast, advice, causes, conditions, findings, the states of channels
        (a silent one stays silent) and notes of whoever recorded it.
    """
    facts = snapshot.facts
    bare = replace(
        facts,
        channels=tuple(_bare(item) for item in facts.channels),
        settling=Settling(state=SettleState.MOVING, cause="too_early"),
        settled=called,
        settled_superheat_k=None,
        settled_subcooling_k=None,
        hold=HoldFacts(),
        ledger=tuple(
            replace(step, before_k=None, after_k=None, gain_k_per_kg=None, gain_over_kg=None)
            for step in facts.ledger
        ),
        findings=(),
        confirmed=frozenset(),
        entered={},
        running_since_t=None,
    )
    return Snapshot(
        t=snapshot.t,
        job=snapshot.job,
        mode=snapshot.mode,
        replayed=snapshot.replayed,
        stage=Stage.CHARGING,
        facts=bare,
        advice=Advice(t=snapshot.t, action=Action.WAIT, cause="first_readings"),
        cautions=tuple(c for c in snapshot.cautions if c.cause in _FACTS_NOT_VERDICTS),
        sources=snapshot.sources,
        finished=snapshot.finished,
    )


def _bare(item: ChannelFacts) -> ChannelFacts:
    if item.state is ChannelState.NO_SIGNAL:
        return item
    return replace(item, state=ChannelState.MOVING, allowed_si_per_s=0.0)
