"""The published compressor map the plant's compressors are scaled from.

Form: AHRI Standard 540, ten coefficients, X = c1 + c2 S + c3 D + c4 S^2 + c5 S D + c6 D^2 + c7 S^3
+ c8 D S^2 + c9 S D^2 + c10 D^3 with S and D the suction and discharge dew temperatures.

Coefficients: a three-ton R-410A scroll compressor as printed in the examples of the open ACHP heat
pump model (S, D in °F; lb/h; W; 20 °F of suction superheat; base frequency 60 Hz). That program
converts kelvin with 456.67 in place of 459.67, an error of 3 °F; it is not repeated here.
"""

from typing import Final

Coefficients = tuple[float, float, float, float, float, float, float, float, float, float]

MAP_SUPERHEAT_K: Final = 20.0 / 1.8
"""Suction superheat the map holds at, 20 °F [K]."""

FLOW_R410A: Final[Coefficients] = (
    217.3163128, 5.094492028, -0.593170311, 4.38e-2, -2.14e-2,
    1.04e-2, 7.90e-5, -5.73e-5, 1.79e-4, -8.08e-5,
)  # fmt: skip
"""Mass flow [lb/h]."""

POWER_R410A: Final[Coefficients] = (
    -561.3615705, -15.62601841, 46.92506685, -0.217949552, 0.435062616,
    -0.442400826, 2.25e-4, 2.37e-3, -3.32e-3, 2.50e-3,
)  # fmt: skip
"""Shaft power [W]."""


def polynomial(c: Coefficients, s: float, d: float) -> float:
    """Return the ten-coefficient polynomial at suction `s` and discharge `d` [°F]."""
    return (
        c[0]
        + s * (c[1] + s * (c[3] + s * c[6] + d * c[7]) + d * (c[4] + d * c[8]))
        + d * (c[2] + d * (c[5] + d * c[9]))
    )
