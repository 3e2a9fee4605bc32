"""Default ranges of a unit in order; a maker's figure, where known, comes before them."""

from collections.abc import Mapping
from typing import Final

from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.usual_limit import ASSUMED, OF_THE_PROGRAM, PRACTICE, F, usual

_SPLIT: Final = (
    f"{OF_THE_PROGRAM}: hvacrschool.com/what-should-the-air-delta-t-be-air-temperature-split"
)

IN_ORDER: Final[Mapping[LimitKey, Limit]] = dict(
    (
        usual(
            LimitKey.CONDENSING_LOW, 10.0 * F, "10 °F", PRACTICE,
            "12 to 23 °F in the table of manualshive.com LRP14AC, page 23",
        ),
        usual(
            LimitKey.CONDENSING_HIGH, 30.0 * F, "30 °F", PRACTICE,
            "small coils, and a pressure taken at the compressor, lie near it",
        ),
        usual(
            LimitKey.CONDENSING_HIGH_HELD, 27.5 * F, "27.5 °F",
            f"{OF_THE_PROGRAM}: manualshive.com LRP14AC, page 23, and a fifth more",
            "12.5 to 22.9 °F of twelve R-410A units, computed from the printed pressures; the "
            "fifth for other makers and other indoor air is an assumption",
        ),
        usual(
            LimitKey.BOILING_LEAST, 25.0 * F, "25 °F", PRACTICE,
            "26 to 36 °F under 80 °F in the same table; where humidity gives nothing better",
        ),
        usual(
            LimitKey.BOILING_MOST, 42.0 * F, "42 °F", PRACTICE,
            "35 °F is the usual figure (from memory); where humidity gives nothing better",
        ),
        usual(LimitKey.SPLIT_LOW, 14.0 * F, "14 °F", _SPLIT, "lower in humid air"),
        usual(LimitKey.SPLIT_HIGH, 23.0 * F, "23 °F", _SPLIT, "lower in humid air"),
        usual(
            LimitKey.SPLIT_ROOM, 0.5, "0.5 K", ASSUMED,
            "another bypass and another fan: 0.05 of bypass is 0.4 K",
        ),
        usual(
            LimitKey.BOILING_ROOM, 2.0, "2 K", ASSUMED,
            "another coil: from its surface to the boiling point 3 to 7 K",
        ),
        usual(
            LimitKey.COIL_SHARE, 0.2, "20 %", ASSUMED,
            "of 400 cfm a ton: ANSI/ACCA 5 allows 15 % of airflow (from memory), and units of "
            "one nominal size differ by some 10 %",
        ),
        usual(LimitKey.HUMIDITY_LOW, 0.35, "35 %", ASSUMED, "rooms that are being cooled"),
        usual(LimitKey.HUMIDITY_HIGH, 0.7, "70 %", ASSUMED, "rooms that are being cooled"),
        usual(
            LimitKey.APPROACH_LOW, 1.0, "1 K", ASSUMED,
            "counts where the job names no approach; no liquid line is colder than its air",
        ),
        usual(
            LimitKey.AMOUNT_WITHIN, 0.1, "10 %", ASSUMED,
            "of plate and line set, either way: what adder, scale and plate leave open",
        ),
        usual(
            LimitKey.AMOUNT_OVER, 0.03, "3 %", ASSUMED,
            "with so much more weighed in, a high reading is that of too much",
        ),
        usual(
            LimitKey.EFFICIENCY_LOW, 0.65, "65 %", PRACTICE,
            "of scrolls and rotaries by their discharge temperature",
        ),
        usual(
            LimitKey.EFFICIENCY_HIGH, 0.85, "85 %", PRACTICE,
            "a shell that loses heat looks better than its compression is",
        ),
        usual(
            LimitKey.RATED_LOAD_LOW, 0.45, "45 %", PRACTICE,
            "of a fixed speed; no more than all of them",
        ),
    )
)  # fmt: skip
"""The ranges, by key."""
