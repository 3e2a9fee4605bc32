"""Bounds of limits, and pairs of limits of which one must be the smaller."""

from typing import Final

from chargeassist.model.limit_key import LimitKey

BOUNDS_SI: Final = {
    LimitKey.HAND_READINGS: (3.0, 20.0),  # a straight line shows its scatter from three points on
    LimitKey.TIGHTNESS_READINGS: (2.0, 50.0),
    LimitKey.VACUUM_READINGS: (5.0, 100.0),
    LimitKey.OVERSHOOT_CHANCE: (1e-3, 0.5),
    LimitKey.SETTLED_BAND: (0.1, 2.0),
    LimitKey.VACUUM_STALL: (1e-3, 0.9),
    LimitKey.EYE_VACUUM: (1e-4, 0.5),
    LimitKey.EYE_VACUUM_STEP: (0.01, 200.0),
    LimitKey.LINE_LENGTH_ACCURACY: (1e-3, 5.0),
    LimitKey.SUBCOOLING_HIGH: (1.0, 40.0),
    LimitKey.HAND_PACE: (10.0, 600.0),
    LimitKey.HAND_PACE_SETTLED: (10.0, 3600.0),
    LimitKey.HAND_SPAN: (60.0, 1800.0),
    LimitKey.HAND_TOGETHER: (10.0, 1800.0),
    LimitKey.HAND_LASTS: (30.0, 7200.0),
    LimitKey.APPROACH_LOW: (0.1, 20.0),
    LimitKey.COIL_SHARE: (0.01, 0.5),
    LimitKey.HUMIDITY_LOW: (0.05, 0.95),
    LimitKey.HUMIDITY_HIGH: (0.05, 1.0),
    LimitKey.AMOUNT_WITHIN: (0.01, 0.5),
    LimitKey.EFFICIENCY_LOW: (0.2, 0.95),
    LimitKey.EFFICIENCY_HIGH: (0.2, 1.0),
    LimitKey.RATED_LOAD_LOW: (0.01, 0.95),
    LimitKey.BAROMETER_ACCURACY: (0.0, 2e4),
}
"""Smallest and largest value of a limit [SI], where the computation behind it needs bounds."""

RANGES: Final = (
    (LimitKey.CONDENSING_LOW, LimitKey.CONDENSING_HIGH),
    (LimitKey.CONDENSING_LOW, LimitKey.CONDENSING_HIGH_HELD),
    (LimitKey.BOILING_LEAST, LimitKey.BOILING_MOST),
    (LimitKey.SPLIT_LOW, LimitKey.SPLIT_HIGH),
    (LimitKey.HUMIDITY_LOW, LimitKey.HUMIDITY_HIGH),
    (LimitKey.EFFICIENCY_LOW, LimitKey.EFFICIENCY_HIGH),
)
"""Lower and upper ends of the ranges that faults are ranked by."""

ORDERED: Final = (
    *RANGES,
    (LimitKey.OUTDOOR_LOW, LimitKey.OUTDOOR_HIGH),
    (LimitKey.INDOOR_LOW, LimitKey.INDOOR_HIGH),
    (LimitKey.SUPERHEAT_LOW, LimitKey.SUPERHEAT_HIGH),
    (LimitKey.ICE_BATH_TOLERANCE, LimitKey.ICE_BATH_REPLACE),
    (LimitKey.ADDER_PARTLY, LimitKey.ADDER_LOW),
    (LimitKey.ADDER_LOW, LimitKey.ADDER_HIGH),
)
"""Pairs of which the first must be the smaller, whichever profiles they come from."""
