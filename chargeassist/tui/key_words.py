"""How an instruction is answered at the keys; the guide's sentences name none."""

from typing import Final

from chargeassist.guide.stages.caution_words import hazard_of

_KEYS: Final = {
    "nitrogen_raise": "press Enter when the supply is open, and again when it is shut",
    "nitrogen_raise_by_hand": "press Enter when the supply is open",
    "nitrogen_reached": "press Enter and type what it shows",
    "read_after_hold": "press Enter and type what it shows",
    "tight_doubted": "press Enter when it is out",
    "read_vacuum": "press Enter and type it, in microns, Pa or mbar",
    "read_vacuum_rise": "press Enter and type it",
    "weigh_in_to_go": "press a to begin the step, e to end it",
    "weigh_in_plate_only": "press a to begin the step, e to end it",
    "weigh_in_open": "press e when the valve is shut",
    "weigh_in_full": "then press e",
    "weigh_in_scale_lost": "press e and type it",
    "scale_lost": "press e and type it",
    "weigh_in_ebbed": "press e when it is shut",
    "circuit_empty": "press s to choose it",
    "hold_missing": "press f once it is held",
    "condition_filters_panels": "press Enter to confirm it, or to go on without it (x)",
    "read_by_hand": "press Enter and type it",
    "read_meanwhile": "press Enter and type it",
    "read_beside": "press Enter and type it",
    "close_out_item": "press Enter when it is done",
    "close_out_done": "press q to end the session",
}


def keys_for(cause: str) -> str:
    """Return which key answers the instruction of `cause`; empty where none is its own."""
    if hazard_of(cause) is not None:
        return "press Enter once you have read it"
    return _KEYS.get(cause, "")
