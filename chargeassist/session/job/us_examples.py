"""The examples of the questions in the units of a technician who asked for °F, psi and oz."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from chargeassist.session.job.question import Question

US_EXAMPLES: Final = {
    "0.2 bar": "3 psi",
    "0.3 K": "0.5 °F",
    "0.5 K": "0.9 °F",
    "0.8 K": "1.5 °F",
    "1.90 kg": "67 oz",
    "2.30 kg": "81 oz",
    "2.4 MPa(g)": "350 psig",
    "2.9 kg": "102 oz",
    "3 K": "5.4 °F",
    "1 K": "1.8 °F",
    "3 m": "10 ft",
    "4.0 MPa(g)": "580 psig",
    "4.2 MPa(g)": "610 psig",
    "5 g": "0.2 oz",
    "5.0 K": "9 °F",
    "5.9 kg": "13 lb",
    "7.5 m": "25 ft",
    "11.8 kg": "26 lb",
    "12 m": "39 ft",
    "12 m2": "129 ft2",
    "12 °C": "54 °F",
    "13.2 kg": "29 lb",
    "24 °C": "75 °F",
    "98.8 kPa": "29.2 inHga",
    "110 g": "3.9 oz",
    "110 °C": "230 °F",
    "210 m": "690 ft",
    "0.3 MPa(g) for 3 min; 1.5 MPa(g) for 3 min; 2.4 MPa(g) for 1 h": (
        "44 psig for 3 min; 220 psig for 3 min; 350 psig for 1 h"
    ),
    "°C": "°F",
    "kg": "oz",
}
"""The same amounts, rounded as they would be typed. Invented, as all examples are."""


def in_us_units(found: Iterator[Question]) -> Iterator[Question]:
    """Yield questions whose examples are in US units where the table has them."""
    for question in found:
        yield replace(question, example=US_EXAMPLES.get(question.example, question.example))
