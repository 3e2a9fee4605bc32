"""The result of a drill in words, for a screen and for a terminal."""

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action
from chargeassist.trainer.result import JudgedCall, LeftOut, Result
from chargeassist.trainer.showing import about_the_unit


def report_lines(result: Result, system: UnitSystem) -> list[str]:
    """Return the total, its parts, then each call beside the truth and beside the tool."""
    who = f"{result.trainee}: " if result.trainee else ""
    lines = [f"{who}{result.points:g} of 100 points", result.title]
    lines.append(
        "scored against the simulated machine's own truth"
        if result.truth == "plant"
        else "a recording: nobody knows the truth; scored against the tool's own verdicts"
    )
    if result.faults:
        lines.append(f"what was wrong: {', '.join(result.faults)}")
    elif result.truth == "plant":
        lines.append("what was wrong: nothing but the charge")
    lines.append("")
    for part in result.parts:
        lines.append(f"−{part.points:g}  {part.rule}: {part.why}")
    if not result.parts:
        lines.append("nothing lost")
    lines.append("")
    lines += [_call_line(call, result, system) for call in result.calls]
    if result.left_out:
        lines += ["", f"not counted, because {_ended(result)}:"]
        lines += [f"{display.clock(call.t):>8}  {_said(call, system)}" for call in result.left_out]
    return lines


def _ended(result: Result) -> str:
    how = "its time was over" if result.ended_by == "time" else f"it ended by {result.ended_by}"
    return f"the drill had ended at {display.clock(result.lasted_s)} ({how})"


def _said(call: JudgedCall | LeftOut, system: UnitSystem) -> str:
    said = call.kind
    if call.mass_kg is not None:
        said += f" {display.mass(call.mass_kg, system)}"
    return f"{said}: {call.fix}" if call.fix else said


def _call_line(call: JudgedCall, result: Result, system: UnitSystem) -> str:
    said = _said(call, system)
    parts = []
    if call.kind == "settled":
        whose = "in truth" if result.truth == "plant" else "by the tool"
        if call.late_s is not None:
            parts.append(f"{_when(call.late_s)} {whose}")
        else:
            never = "it never settles" if result.truth == "plant" else "the tool never called it"
            parts.append(never)
        if call.value_error_k is not None:
            parts.append(f"value {display.difference(call.value_error_k, system)} off")
        if result.truth == "plant":
            parts.append(
                "the tool had not called it yet"
                if call.tool_late_s is None or call.tool_late_s < 0.0
                else f"{_when(call.tool_late_s)} by the tool"
            )
    if call.done_kg is not None:
        parts.append(f"{display.mass(call.done_kg, system)} was done")
    amount = "" if call.tool_mass_kg is None else f" {display.mass(call.tool_mass_kg, system)}"
    about = ""
    if about_the_unit(call.tool_said, call.tool_cause) == Action.FIX_FIRST and call.tool_subject:
        about = f": {call.tool_subject}"
    parts.append(f"the tool said {call.tool_said}{amount}{about}")
    return f"{display.clock(call.t):>8}  {said}: {'; '.join(parts)}"


def _when(late_s: float) -> str:
    if late_s < 0.0:
        return f"{-late_s:.0f} s too early"
    return f"{late_s:.0f} s after it settled"
