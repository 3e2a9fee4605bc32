"""Words of the close-out."""

from chargeassist.guide.stages.words import StageWords
from chargeassist.model import display

WORDS = StageWords(
    headlines={"close_out_item": lambda f, s, u: "Close up"},
    reasons={
        "close_out_item": lambda f, s, u: (
            f"{s}; {f['open']:.0f} of {f['items']:.0f} items are open"
        ),
        "close_out_done": lambda f, s, u: (
            "every item of the list is in the record or said to be done"
        ),
    },
    rows={
        "close_out": ("", lambda f, s, u: s),
        "close_out_co2": (
            "",
            lambda f, s, u: (
                f"{s}; {display.mass(f['kg'], u)} at {f['gwp']:.0f} are "
                f"{display.co2(f['co2_kg'])} of CO2"
            ),
        ),
    },
    checks={"close_out": "close-out"},
    findings={
        "close_out_done": lambda f, s, u: f"all {f['items']:.0f} items recorded or said to be done",
        "close_out_open": lambda f, s, u: f"{f['open']:.0f} of {f['items']:.0f} items open",
    },
)
