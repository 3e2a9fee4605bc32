"""How an instruction is answered in lines; the guide's sentences do not say."""

from typing import Final

from chargeassist.guide.stages.caution_words import hazard_of

_LINES: Final = {
    "nitrogen_raise": "'done' tells that the supply is open, once more that it is shut",
    "nitrogen_raise_by_hand": "'done' tells that the supply is open",
    "nitrogen_reached": "type what it shows",
    "read_after_hold": "type what it shows",
    "read_vacuum": "type it, in micron, Pa or mbar",
    "read_vacuum_rise": "type it",
    "weigh_in_to_go": "'begin' begins the step, 'end' ends it",
    "weigh_in_plate_only": "'begin' begins the step, 'end' ends it",
    "weigh_in_open": "'end' ends the step when the valve is shut",
    "weigh_in_full": "then 'end'",
    "condition_filters_panels": "'checked filters_panels' tells it",
    "read_by_hand": "type it",
    "read_beside": "type it",
    "close_out_item": "'done' tells that it is done",
    "close_out_done": "'finish' ends the session",
}


def line_for(cause: str) -> str:
    """Return which line answers the instruction of `cause`; empty where none is its own."""
    if hazard_of(cause) is not None:
        return "'caution' tells that it is read"
    return _LINES.get(cause, "")
