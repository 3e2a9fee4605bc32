"""How an instruction is answered in lines; the guide's sentences do not say."""

from typing import Final

from chargeassist.guide.stages.caution_words import hazard_of

_LINES: Final = {
    "nitrogen_raise": "type 'done' when the supply is open, and again when it is shut",
    "nitrogen_raise_by_hand": "type 'done' when the supply is open",
    "nitrogen_reached": "type what it shows",
    "read_after_hold": "type what it shows",
    "tight_doubted": "type 'done' when it is out",
    "read_vacuum": "type it, in microns, Pa or mbar",
    "read_vacuum_rise": "type it",
    "weigh_in_to_go": "type 'begin' to begin the step, 'end' to end it",
    "weigh_in_plate_only": "type 'begin' to begin the step, 'end' to end it",
    "weigh_in_open": "type 'end' when the valve is shut",
    "weigh_in_full": "then type 'end'",
    "weigh_in_scale_lost": "type 'end' and the amount",
    "scale_lost": "type 'end' and the amount",
    "weigh_in_ebbed": "type 'end' when it is shut",
    "circuit_empty": "type 'stage' and its name",
    "hold_missing": "type 'frequency' and what the unit shows once it is held",
    "condition_filters_panels": "type 'checked filters_panels' when you have",
    "read_by_hand": "type it",
    "read_meanwhile": "type it",
    "read_beside": "type it",
    "close_out_item": "type 'done' when it is done",
    "close_out_done": "type 'finish' to end the session",
}


def line_for(cause: str) -> str:
    """Return which line answers the instruction of `cause`; empty where none is its own."""
    if hazard_of(cause) is not None:
        return "type 'caution' once you have read it"
    return _LINES.get(cause, "")
