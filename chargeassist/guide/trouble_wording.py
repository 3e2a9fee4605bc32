"""Sentences about trouble with the logger itself: sources, record, clocks, sleep."""

from chargeassist.guide.stages.words import Phrase
from chargeassist.model import display
from chargeassist.model.events import ClockSet, ProgramHeld, SourceBack, SourceLost

RECORDER = "record"
"""Source name under which the recorder is lost and back."""

BOARD = "board"
"""Source name under which publishing to watchers elsewhere is lost and back."""


def source_event(event: SourceLost | SourceBack) -> str:
    """Return that a source, the recorder or publishing to watchers is lost or back."""
    name = event.source
    if isinstance(event, SourceLost):
        words = {RECORDER: "the record cannot be written", BOARD: "nobody elsewhere is told"}
        return f"{words.get(name, f'{name} lost')}: {event.reason}"
    back = {RECORDER: "the record is written again", BOARD: "watchers elsewhere are told again"}
    return back.get(name, f"{name} is back")


def clock_set(step_s: float) -> str:
    """Return that the wall clock was set, and that this changes nothing here."""
    way = "forward" if step_s > 0.0 else "back"
    return (
        f"the computer's clock was set {way} by {display.duration(abs(step_s))}; "
        "times in this session are counted from its start and are not affected"
    )


def why_held(*, asleep: bool) -> str:
    """Return what kept the program from running, to begin a sentence with."""
    return "the computer slept" if asleep else "the program was stopped or the computer too busy"


def program_held(held_s: float, *, asleep: bool) -> str:
    """Return that the program did not run, and what to do now."""
    return (
        f"{why_held(asleep=asleep)} for {display.duration(held_s)}: nothing was read meanwhile; "
        "wait for fresh readings, and see that the unit still runs as it should"
    )


def time_event(event: ClockSet | ProgramHeld) -> str:
    """Return what an event about time means, as a sentence without full stop."""
    if isinstance(event, ClockSet):
        return clock_set(event.step_s)
    return program_held(event.held_s, asleep=event.asleep)


TROUBLE_CAUTION: dict[str, Phrase] = {
    "source_lost": lambda f, s, u: f"{s} has been silent for {display.duration(f['seconds_s'])}",
    "board_lost": lambda f, s, u: f"nobody elsewhere is told: {s}",
    "record_failing": lambda f, s, u: f"the record cannot be written: {s}",
    "clock_set": lambda f, s, u: clock_set(f["step_s"]),
    "machine_slept": lambda f, s, u: program_held(f["held_s"], asleep=True),
    "program_held": lambda f, s, u: program_held(f["held_s"], asleep=False),
}
