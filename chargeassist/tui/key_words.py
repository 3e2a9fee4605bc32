"""How an instruction is answered at the keys; the guide's sentences name none."""

from typing import Final

from chargeassist.guide.stages.caution_words import hazard_of

_KEYS: Final = {
    "nitrogen_raise": "Enter tells that the supply is open, once more that it is shut",
    "nitrogen_raise_by_hand": "Enter tells that the supply is open",
    "nitrogen_reached": "Enter asks what it shows",
    "read_after_hold": "Enter asks what it shows",
    "read_vacuum": "Enter asks, in micron, Pa or mbar",
    "read_vacuum_rise": "Enter asks for it",
    "weigh_in_to_go": "a begins the step, e ends it",
    "weigh_in_plate_only": "a begins the step, e ends it",
    "weigh_in_open": "e ends the step when the valve is shut",
    "weigh_in_full": "then e",
    "condition_filters_panels": "Enter asks, and there x goes on without it",
    "read_by_hand": "Enter types it",
    "read_beside": "Enter types it",
    "close_out_item": "Enter tells that it is done",
    "close_out_done": "q ends the session",
}


def keys_for(cause: str) -> str:
    """Return which key answers the instruction of `cause`; empty where none is its own."""
    if hazard_of(cause) is not None:
        return "Enter tells that it is read"
    return _KEYS.get(cause, "")
