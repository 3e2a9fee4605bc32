"""Drills played to their end, and the calls of who does what the tool says."""

import asyncio
from collections.abc import Iterable
from pathlib import Path

from chargeassist.model.events import Action, Advice, Event, Settled
from chargeassist.trainer.calls import read_calls
from chargeassist.trainer.drill import Drill, find_exercise
from chargeassist.trainer.result import Part, Result


def played(place: str, text: str, tmp_path: Path, seed: int | None = None) -> Result:
    """Return the result of a drill in which the calls of `text` are made, one a line."""
    drill = Drill(
        find_exercise(place, seed),
        speed=None,
        script=read_calls(text.splitlines(), "calls"),
        record=tmp_path / "one.session",
    )
    asyncio.run(drill.run(lambda snapshot: None))
    return drill.result()


def calls_of_the_tool(events: Iterable[Event]) -> str:
    """Return the calls of who does what the tool says when it says so, until "stop"."""
    lines = []
    for event in events:
        if isinstance(event, Settled):
            lines.append(f"{event.t + 1.0:.0f} s settled")
        elif isinstance(event, Advice) and event.action in {Action.ADD, Action.RECOVER}:
            assert event.mass_kg is not None
            if event.cause not in {"step_open", "step_full"}:
                grams = event.mass_kg * 1000.0
                lines.append(f"{event.t + 6.0:.0f} s {event.action.value} {grams:.1f} g")
        elif isinstance(event, Advice) and event.action is Action.STOP:
            lines.append(f"{event.t + 2.0:.0f} s stop")
            break
    return "\n".join(lines)


def by_rule(parts: tuple[Part, ...]) -> dict[str, float]:
    """Return the points of each rule that was used."""
    return {
        rule: sum(p.points for p in parts if p.rule == rule) for rule in {p.rule for p in parts}
    }
