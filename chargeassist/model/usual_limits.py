"""Default limits, used if neither the job nor a profile gives one.

For most of them no published number was found; every record and report lists them as "default of
this program". Numbers that are not rules of work (a filter's time, a prior, a detector's threshold)
are not limits; they stand where they are used, with their source.
"""

from collections.abc import Mapping
from typing import Final

from chargeassist.model.limits import Authority, Limit, LimitKey, Profile
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT, PASCAL_PER_PSI, kelvin_from_fahrenheit

OF_THE_PROGRAM: Final = "default of this program"
"""Beginning of the source of a default limit."""

_PRACTICE: Final = f"{OF_THE_PROGRAM}: common practice, no published source"
_ASSUMED: Final = f"{OF_THE_PROGRAM}: assumption, no published source"
_RA3: Final = f"{OF_THE_PROGRAM}: California Title 24, Reference Residential Appendix RA3.2"
_SPLIT: Final = (
    f"{OF_THE_PROGRAM}: hvacrschool.com/what-should-the-air-delta-t-be-air-temperature-split"
)
_F: Final = KELVIN_PER_FAHRENHEIT


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
        _usual(
            LimitKey.HAND_LASTS, 300.0, "5 min", _ASSUMED,
            "a reading of the running circuit that is older says nothing of now",
        ),
        _usual(
            LimitKey.HAND_TOGETHER, 120.0, "2 min", _ASSUMED,
            "pressure and pipe of one line read within so long of each other are one reading",
        ),
        _usual(
            LimitKey.HAND_PACE, 60.0, "60 s", _ASSUMED,
            "until it has settled; the first one so long after a change",
        ),
        _usual(
            LimitKey.HAND_PACE_SETTLED, 120.0, "2 min", _ASSUMED,
            "while a settled reading stands",
        ),
        _usual(
            LimitKey.HAND_READINGS, 4.0, "4 readings", _ASSUMED,
            "two tell a change, one shows the scatter, one a slip of the eye",
        ),
        _usual(
            LimitKey.HAND_SPAN, 180.0, "3 min", _ASSUMED,
            "from the first to the last: as long as the slowest time constant reckoned with",
        ),
        _usual(
            LimitKey.EYE_PRESSURE, 7e3, "7 kPa", _ASSUMED,
            "half width of what the eye makes of a pointer, 1 psi; readings that scatter more "
            "count with their own scatter",
        ),
        _usual(
            LimitKey.EYE_TEMPERATURE, 0.2, "0.2 K", _ASSUMED,
            "half width of what the eye makes of digits that run",
        ),
        _usual(
            LimitKey.EYE_VACUUM, 0.01, "1 %", _ASSUMED,
            "scatter of a vacuum read by eye, besides the ten microns its digits run by",
        ),
        _usual(
            LimitKey.TIGHTNESS_READINGS, 3.0, "3 readings", _ASSUMED,
            "with fewer nobody sees a slip of the eye, and no verdict is certain",
        ),
        _usual(
            LimitKey.VACUUM_READINGS, 8.0, "8 readings", _ASSUMED,
            "with fewer a pass is never certain",
        ),
        _usual(
            LimitKey.TYPED_AIR_LASTS, 1800.0, "30 min", _ASSUMED,
            "a day warms by a kelvin or two an hour, and a cloud does the same in minutes",
        ),
        _usual(
            LimitKey.TYPED_AIR_ACCURACY, 1.0 * _F, "1 °F", _ASSUMED,
            "half width of an air temperature read off by hand",
        ),
        _usual(
            LimitKey.HEATER_LASTS, 1800.0, "30 min", _ASSUMED,
            "a heater told of so long ago is no longer taken to run",
        ),
        _usual(
            LimitKey.SETTLED_BAND, 0.3, "0.3 K", _ASSUMED,
            "settled means that no more than this is still to come",
        ),
        _usual(
            LimitKey.OVERSHOOT_CHANCE, 0.05, "5 %", _ASSUMED,
            "a step is no larger than what passes the far end of the band with this chance",
        ),
        _usual(
            LimitKey.COLUMN_OUTDOOR, 6.0, "6 K", _ASSUMED,
            "columns are printed 5 and 10 °F apart: half of a wide one, and as much for the "
            "day's change",
        ),
        _usual(
            LimitKey.COLUMN_WEATHER, 0.1, "10 %",
            f"{OF_THE_PROGRAM}: twelve R-410A units of manualshive.com LRP14AC, page 23",
            "of what the weather is off the column: the steepest of them moves by 0.12 K/K",
        ),
        _usual(
            LimitKey.COLUMN_LIQUID_PRESSURE, 10.0 * PASCAL_PER_PSI, "10 psi",
            "default of this program: maker's table of normal operating pressures, "
            "easymanua.ls/lennox/sca-series/manual?p=37",
            "another maker prints 10, too, manualshive.com/ru/manual/bard/w48a12/2707107?page=22",
        ),
        _usual(
            LimitKey.COLUMN_SUCTION_PRESSURE, 5.0 * PASCAL_PER_PSI, "5 psi",
            "default of this program: maker's table of normal operating pressures, "
            "easymanua.ls/lennox/sca-series/manual?p=37",
            "another maker prints 4, manualshive.com/ru/manual/bard/w48a12/2707107?page=22",
        ),
        _usual(
            LimitKey.COLUMN_DISCHARGE, 10.0 * _F, "10 °F", _PRACTICE,
            "the discharge line follows the weather and the charge of oil",
        ),
        _usual(
            LimitKey.APPROACH_TOLERANCE, 1.0 * _F, "1 °F",
            "default of this program: equipment manual, "
            "manualshive.com/en/manual/lennox/merit-13hpd018/1877800, page 16",
            "either way; counts where the job names an approach",
        ),
        _usual(
            LimitKey.APPROACH_OUTDOOR_LOW, kelvin_from_fahrenheit(65.0), "65 °F",
            "default of this program: equipment manual, "
            "manualshive.com/en/manual/lennox/merit-13hpd018/1877800, page 16",
            "in colder air the approach says nothing",
        ),
        _usual(
            LimitKey.SUPERHEAT_OUTDOOR_LOW, kelvin_from_fahrenheit(65.0), "65 °F", _PRACTICE,
            "RA3.2 draws the line at 55 °F, the manual of the table at 40 °F",
        ),
        _usual(
            LimitKey.SPLIT_TOLERANCE, 3.0 * _F, "3 °F", f"{_RA3}, temperature split, 2008",
            "of an installer, 4 °F of a verifier; counts beside the split of a maker's table",
        ),
        _usual(
            LimitKey.STANDING_ALLOWED, 1.0, "1 K", _ASSUMED,
            "what gas or a zero may be worth before it matters, as saturation temperature: "
            "about the smallest tolerance of a target",
        ),
        _usual(
            LimitKey.STANDING_MOVED, 0.9, "0.9 K", _ASSUMED,
            "two checks of one session; what was wrong from the beginning is in both",
        ),
        _usual(
            LimitKey.STANDING_PLACE, 0.6, "0.6 K", _ASSUMED,
            "k = 2, by air beside it; half the difference of outdoor and return air comes on top",
        ),
        _usual(
            LimitKey.STANDING_REST, 300.0, "5 min", _ASSUMED,
            "and nothing may move any more: what moves has not come to rest",
        ),
        _usual(
            LimitKey.STANDING_EQUAL, 30e3, "30 kPa", _ASSUMED,
            "sides further apart are parted by a shut valve and equalise in hours only",
        ),
        _usual(
            LimitKey.STANDING_COOLED, 1.0, "1 K", _ASSUMED,
            "behind a shut valve the liquid is then like that of a cylinder",
        ),
        _usual(
            LimitKey.CYLINDER_REST, 4.0 * 3600.0, "4 h", f"{_RA3}.2.4, gauge check, 2008",
            "an insulated sensor on its wall, out of the sun",
        ),
        _usual(
            LimitKey.IDLE_CURRENT, 0.5, "0.5 A", _ASSUMED,
            "where no frequency shows it; a crankcase heater or a board draws less",
        ),
        _usual(
            LimitKey.PROBE_SETTLING, 90.0, "90 s", f"{_RA3}.2.2.2.2, 2013",
            "for a step of more than 40 °F",
        ),
        _usual(
            LimitKey.ICE_BATH_TOLERANCE, 1.0 * _F, "1 °F", f"{_RA3}.2.4.1, 2008",
            "off by more, its readings are corrected or it is calibrated",
        ),
        _usual(
            LimitKey.ICE_BATH_REPLACE, 2.0 * _F, "2 °F", f"{_RA3}.2.4.1, 2008",
            "off by more, it is replaced",
        ),
        _usual(
            LimitKey.ICE_BATH_ACCURACY, 0.1, "0.1 K", _ASSUMED,
            "k = 2: crushed ice, well stirred; a bath made with care is far better",
        ),
        _usual(
            LimitKey.FILTERS_PANELS, 1.0, "yes", _PRACTICE,
            "nobody can tell afterwards what was read with a panel off",
        ),
        _usual(
            LimitKey.VACUUM_STALL, 0.08, "8 %", _ASSUMED,
            "a sound pull-down halves its pressure several times in that time, until the pump's "
            "own end",
        ),
        _usual(
            LimitKey.ADDER_LOW, 0.85, "85 %", _ASSUMED,
            "printed adders with metering indoors are 92 to 163 % of what the line holds",
        ),
        _usual(
            LimitKey.ADDER_HIGH, 1.75, "175 %", _ASSUMED,
            "the adder of the next larger diameter is 200 % and more",
        ),
        _usual(
            LimitKey.ADDER_PARTLY, 0.3, "30 %", _ASSUMED,
            "printed adders with metering outdoors are 45 to 82 % of what the line holds",
        ),
        _usual(
            LimitKey.SCALE_ACCURACY, 0.0284, "1 oz",
            "default of this program: equipment manual, manualslib.com/manual/1937512, page 28",
            "the least such procedures accept",
        ),
        _usual(
            LimitKey.CALIBRATION_AGE, 366.0 * 86_400.0, "366 d", _PRACTICE,
            "instruments are calibrated once a year",
        ),
        _usual(
            LimitKey.CONDENSING_LOW, 10.0 * _F, "10 °F", _PRACTICE,
            "12 to 23 °F in the table of manualshive.com LRP14AC, page 23",
        ),
        _usual(
            LimitKey.CONDENSING_HIGH, 30.0 * _F, "30 °F", _PRACTICE,
            "small coils, and a pressure taken at the compressor, lie near it",
        ),
        _usual(
            LimitKey.CONDENSING_HIGH_HELD, 27.5 * _F, "27.5 °F",
            f"{OF_THE_PROGRAM}: manualshive.com LRP14AC, page 23, and a fifth more",
            "12.5 to 22.9 °F of twelve R-410A units, computed from the printed pressures; the "
            "fifth for other makers and other indoor air is an assumption",
        ),
        _usual(
            LimitKey.BOILING_LEAST, 25.0 * _F, "25 °F", _PRACTICE,
            "26 to 36 °F under 80 °F in the same table; where humidity gives nothing better",
        ),
        _usual(
            LimitKey.BOILING_MOST, 42.0 * _F, "42 °F", _PRACTICE,
            "35 °F is the usual figure (from memory); where humidity gives nothing better",
        ),
        _usual(LimitKey.SPLIT_LOW, 14.0 * _F, "14 °F", _SPLIT, "lower in humid air"),
        _usual(LimitKey.SPLIT_HIGH, 23.0 * _F, "23 °F", _SPLIT, "lower in humid air"),
        _usual(
            LimitKey.SPLIT_ROOM, 0.5, "0.5 K", _ASSUMED,
            "another bypass and another fan: 0.05 of bypass is 0.4 K",
        ),
        _usual(
            LimitKey.BOILING_ROOM, 2.0, "2 K", _ASSUMED,
            "another coil: from its surface to the boiling point 3 to 7 K",
        ),
        _usual(
            LimitKey.COIL_SHARE, 0.2, "20 %", _ASSUMED,
            "of 400 cfm a ton: ANSI/ACCA 5 allows 15 % of airflow (from memory), and units of "
            "one nominal size differ by some 10 %",
        ),
        _usual(LimitKey.HUMIDITY_LOW, 0.35, "35 %", _ASSUMED, "rooms that are being cooled"),
        _usual(LimitKey.HUMIDITY_HIGH, 0.7, "70 %", _ASSUMED, "rooms that are being cooled"),
        _usual(
            LimitKey.APPROACH_LOW, 1.0, "1 K", _ASSUMED,
            "counts where the job names no approach; no liquid line is colder than its air",
        ),
        _usual(
            LimitKey.AMOUNT_WITHIN, 0.1, "10 %", _ASSUMED,
            "of plate and line set, either way: what adder, scale and plate leave open",
        ),
        _usual(
            LimitKey.AMOUNT_OVER, 0.03, "3 %", _ASSUMED,
            "with so much more weighed in, a high reading is that of too much",
        ),
        _usual(
            LimitKey.EFFICIENCY_LOW, 0.65, "65 %", _PRACTICE,
            "of scrolls and rotaries by their discharge temperature",
        ),
        _usual(
            LimitKey.EFFICIENCY_HIGH, 0.85, "85 %", _PRACTICE,
            "a shell that loses heat looks better than its compression is",
        ),
        _usual(
            LimitKey.RATED_LOAD_LOW, 0.45, "45 %", _PRACTICE,
            "of a fixed speed; no more than all of them",
        ),
        _usual(
            LimitKey.DISCHARGE_CLAMP, 4.0, "4 K", _ASSUMED,
            "k = 2: 2 K of the probe and 2 K of its contact as limits",
        ),
        _usual(
            LimitKey.PIPE_CONTACT, 0.3, "0.3 K", _ASSUMED,
            "half width; in every budget of subcooling and superheat",
        ),
        _usual(
            LimitKey.BAROMETER_ACCURACY, 1500.0, "15 hPa", _ASSUMED,
            "half width: weather about the standard atmosphere of the site",
        ),
        _usual(
            LimitKey.TIGHTNESS_GAUGE, 0.005, "0.5 %", _ASSUMED,
            "half width, of the pressure; the verdict is then not certain",
        ),
        _usual(
            LimitKey.TIGHTNESS_GAUGE_BY_HAND, 0.01, "1 %", _ASSUMED,
            "half width, of the pressure; the verdict is then not certain",
        ),
        _usual(
            LimitKey.TIGHTNESS_THERMOMETER, 1.0, "1 K", _ASSUMED,
            "half width; the verdict is then not certain",
        ),
    )
)  # fmt: skip
"""The default limits, by key."""

USUAL_PROFILE: Final = Profile(
    name="program-default", title="defaults of this program", limits=USUAL
)
"""The defaults as a profile; it comes after the job file and every profile the job names."""
