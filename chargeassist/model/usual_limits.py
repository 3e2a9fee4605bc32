"""Limits that count where neither job nor profile gives one: editable, and each says what it is.

No published number was found for most of them; they stand in every record and report under
"default of this program", and what a job file or a profile says comes before them.
"""

from collections.abc import Mapping
from typing import Final

from chargeassist.model.limits import Authority, Limit, LimitKey, Profile

_PRACTICE: Final = "default of this program: common practice, no published source"
_ASSUMED: Final = "default of this program: assumption, no published source"


def _usual(
    key: LimitKey, value_si: float, as_written: str, source: str, note: str
) -> tuple[LimitKey, Limit]:
    limit = Limit(
        key=key,
        value_si=value_si,
        as_written=as_written,
        source=source,
        edition="",
        authority=Authority.RULE_OF_THUMB,
        note=note,
    )
    return key, limit


USUAL: Final[Mapping[LimitKey, Limit]] = dict(
    (
        _usual(
            LimitKey.TIGHTNESS_THERE, 0.02, "2 %", _ASSUMED,
            "so much below a step's pressure counts as being there: what a gauge by eye can miss",
        ),
        _usual(
            LimitKey.TIGHTNESS_OVER, 0.005, "0.5 %", _ASSUMED,
            "a reading over the highest pressure by less is the gauge's noise",
        ),
        _usual(
            LimitKey.TIGHTNESS_FALL, 0.03, "3 %", _ASSUMED,
            "of the test pressure, in a short hold: it would take 9 K of cooling",
        ),
        _usual(
            LimitKey.TIGHTNESS_SETTLING, 600.0, "10 min", _PRACTICE,
            "left out after the supply is shut: the gas gives its heat of filling to the pipes",
        ),
        _usual(
            LimitKey.TIGHTNESS_ATMOSPHERE, 500.0, "5 hPa", _ASSUMED,
            "what the atmosphere may change during a test that no barometer watches",
        ),
        _usual(
            LimitKey.VACUUM_EQUALISATION, 120.0, "2 min", _PRACTICE,
            "left out at the start of a rise test; 60 to 120 s are usual",
        ),
        _usual(
            LimitKey.VACUUM_DEEPENS, 0.01, "1 %", _ASSUMED,
            "a minute: while the vacuum at its target falls faster, pumping on still dries",
        ),
        _usual(
            LimitKey.VACUUM_STEADY_RISE, 0.1, "10 %", _ASSUMED,
            "of the limit within one hold: a rise as steady as that is called a leak",
        ),
        _usual(
            LimitKey.CYLINDER_FILL, 0.8, "80 %",
            "default of this program: AHRI Guideline K, 2004, as told in "
            "achrnews.com/articles/111771-on-the-level-filling-cylinders",
            "of water capacity times specific gravity at 77 °F; the cylinder's label comes first",
        ),
        _usual(
            LimitKey.HOLD_WARNING, 300.0, "5 min", _ASSUMED,
            "so long before the unit leaves its test mode the screen says so",
        ),
        _usual(
            LimitKey.FLOODBACK_TIME, 120.0, "2 min", _PRACTICE,
            "liquid let in through the suction port boils off within so long; after it, low "
            "superheat is no effect of the step",
        ),
        _usual(
            LimitKey.IMPOSSIBLE_READING, 3.0, "3 K", _PRACTICE,
            "below zero: a liquid line that much over saturation, or a suction line that much "
            "under it, is not the line it is said to be",
        ),
        _usual(
            LimitKey.SHORTAGE_SUBCOOLING, 3.0, "3 K", _ASSUMED,
            "with more subcooling than this a high superheat does not come from a shortage",
        ),
        _usual(
            LimitKey.OVERFED_SUBCOOLING, 1.0, "1 K", _PRACTICE,
            "with less subcooling than this a low superheat does not come from too much charge",
        ),
        _usual(
            LimitKey.TYPED_LASTS, 900.0, "15 min", _ASSUMED,
            "a typed reading stands beside others for so long; later the unit has moved on",
        ),
        _usual(
            LimitKey.TYPED_TOGETHER, 300.0, "5 min", _ASSUMED,
            "pressure and pipes typed within so long of each other are one reading",
        ),
    )
)  # fmt: skip
"""By what is limited."""

USUAL_PROFILE: Final = Profile(
    name="program-default", title="defaults of this program", limits=USUAL
)
"""The last to be asked, after the job file and every profile it names."""
