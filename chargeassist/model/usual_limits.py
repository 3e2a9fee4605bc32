"""Default limits, used if neither the job nor a profile gives one.

For most of them no published number was found; every record and report lists them as "default of
this program". Numbers that are not rules of work (a filter's time, a prior, a detector's threshold)
are not limits; they stand where they are used, with their source.
"""

from collections.abc import Mapping
from typing import Final

from chargeassist.model.limits import Limit, LimitKey, Profile
from chargeassist.model.units import (
    PASCAL_PER_MICRON,
    PASCAL_PER_PSI,
    kelvin_from_fahrenheit,
)
from chargeassist.model.usual_in_order import IN_ORDER
from chargeassist.model.usual_limit import ASSUMED, OF_THE_PROGRAM, PRACTICE, RA3, F, usual

_OF_WORK: Final[Mapping[LimitKey, Limit]] = dict(
    (
        usual(
            LimitKey.TIGHTNESS_THERE, 0.02, "2 %", ASSUMED,
            "so much below a step's pressure counts as being there: what a gauge by eye can miss",
        ),
        usual(
            LimitKey.TIGHTNESS_OVER, 0.005, "0.5 %", ASSUMED,
            "a reading over the highest pressure by less is the gauge's noise",
        ),
        usual(
            LimitKey.TIGHTNESS_FALL, 0.03, "3 %", ASSUMED,
            "of the test pressure, in a short hold: it would take 9 K of cooling",
        ),
        usual(
            LimitKey.TIGHTNESS_SETTLING, 600.0, "10 min", PRACTICE,
            "left out after the supply is shut: the gas gives its heat of filling to the pipes",
        ),
        usual(
            LimitKey.TIGHTNESS_ATMOSPHERE, 500.0, "5 hPa", ASSUMED,
            "what the atmosphere may change during a test that no barometer watches",
        ),
        usual(
            LimitKey.VACUUM_EQUALISATION, 120.0, "2 min", PRACTICE,
            "left out at the start of a rise test; 60 to 120 s are usual",
        ),
        usual(
            LimitKey.VACUUM_DEEPENS, 0.01, "1 %", ASSUMED,
            "a minute: while the vacuum at its target falls faster, pumping on still dries",
        ),
        usual(
            LimitKey.VACUUM_STEADY_RISE, 0.1, "10 %", ASSUMED,
            "of the limit within one hold: a rise as steady as that is called a leak",
        ),
        usual(
            LimitKey.CYLINDER_FILL, 0.8, "80 %",
            "default of this program: AHRI Guideline K, 2004, as told in "
            "achrnews.com/articles/111771-on-the-level-filling-cylinders",
            "of water capacity times specific gravity at 77 °F; the cylinder's label comes first",
        ),
        usual(
            LimitKey.HOLD_WARNING, 300.0, "5 min", ASSUMED,
            "so long before the unit leaves its test mode the screen says so",
        ),
        usual(
            LimitKey.FLOODBACK_TIME, 120.0, "2 min", PRACTICE,
            "liquid let in through the suction port boils off within so long; after it, low "
            "superheat is no effect of the step",
        ),
        usual(
            LimitKey.IMPOSSIBLE_READING, 3.0, "3 K", PRACTICE,
            "below zero: a liquid line that much over saturation, or a suction line that much "
            "under it, is not the line it is said to be",
        ),
        usual(
            LimitKey.SUBCOOLING_HIGH, 20.0 * F, "20 °F", PRACTICE,
            "of a job judged by superheat: with more of it refrigerant stands before the orifice",
        ),
        usual(
            LimitKey.SHORTAGE_SUBCOOLING, 3.0, "3 K", ASSUMED,
            "with more subcooling than this a high superheat does not come from a shortage",
        ),
        usual(
            LimitKey.OVERFED_SUBCOOLING, 1.0, "1 K", PRACTICE,
            "with less subcooling than this a low superheat does not come from too much charge",
        ),
        usual(
            LimitKey.TYPED_LASTS, 900.0, "15 min", ASSUMED,
            "a typed reading stands beside others for so long; later the unit has moved on",
        ),
        usual(
            LimitKey.TYPED_TOGETHER, 300.0, "5 min", ASSUMED,
            "pressure and pipes typed within so long of each other are one reading",
        ),
        usual(
            LimitKey.HAND_LASTS, 300.0, "5 min", ASSUMED,
            "a reading of the running circuit that is older says nothing of now",
        ),
        usual(
            LimitKey.HAND_TOGETHER, 120.0, "2 min", ASSUMED,
            "pressure and pipe of one line read within so long of each other are one reading",
        ),
        usual(
            LimitKey.HAND_PACE, 60.0, "60 s", ASSUMED,
            "until it has settled; the first one so long after a change",
        ),
        usual(
            LimitKey.HAND_PACE_SETTLED, 120.0, "2 min", ASSUMED,
            "while a settled reading stands",
        ),
        usual(
            LimitKey.HAND_READINGS, 4.0, "4 readings", ASSUMED,
            "two tell a change, one shows the scatter, one a slip of the eye",
        ),
        usual(
            LimitKey.HAND_SPAN, 180.0, "3 min", ASSUMED,
            "from the first to the last: as long as the slowest time constant reckoned with",
        ),
        usual(
            LimitKey.EYE_PRESSURE, 7e3, "7 kPa", ASSUMED,
            "half width of what the eye makes of a pointer, 1 psi; readings that scatter more "
            "count with their own scatter",
        ),
        usual(
            LimitKey.EYE_TEMPERATURE, 0.2, "0.2 K", ASSUMED,
            "half width of what the eye makes of digits that run",
        ),
        usual(
            LimitKey.EYE_VACUUM, 0.01, "1 %", ASSUMED,
            "scatter of a vacuum read by eye, besides what its digits run by",
        ),
        usual(
            LimitKey.EYE_VACUUM_STEP, 10.0 * PASCAL_PER_MICRON, "10 micron", ASSUMED,
            "so much the digits run while they are read; a fit is weighted with it",
        ),
        usual(
            LimitKey.TIGHTNESS_READINGS, 3.0, "3 readings", ASSUMED,
            "with fewer nobody sees a slip of the eye, and no verdict is certain",
        ),
        usual(
            LimitKey.VACUUM_READINGS, 8.0, "8 readings", ASSUMED,
            "with fewer a pass is never certain",
        ),
        usual(
            LimitKey.TYPED_AIR_LASTS, 1800.0, "30 min", ASSUMED,
            "a day warms by a kelvin or two an hour, and a cloud does the same in minutes",
        ),
        usual(
            LimitKey.TYPED_AIR_ACCURACY, 1.0 * F, "1 °F", ASSUMED,
            "half width of an air temperature read off by hand",
        ),
        usual(
            LimitKey.HEATER_LASTS, 1800.0, "30 min", ASSUMED,
            "a heater told of so long ago is no longer taken to run",
        ),
        usual(
            LimitKey.SETTLED_BAND, 0.3, "0.3 K", ASSUMED,
            "settled means that no more than this is still to come",
        ),
        usual(
            LimitKey.OVERSHOOT_CHANCE, 0.05, "5 %", ASSUMED,
            "a step is no larger than what passes the far end of the band with this chance",
        ),
        usual(
            LimitKey.COLUMN_OUTDOOR, 6.0, "6 K", ASSUMED,
            "columns are printed 5 and 10 °F apart: half of a wide one, and as much for the "
            "day's change",
        ),
        usual(
            LimitKey.COLUMN_WEATHER, 0.1, "10 %",
            f"{OF_THE_PROGRAM}: twelve R-410A units of manualshive.com LRP14AC, page 23",
            "of what the weather is off the column: the steepest of them moves by 0.12 K/K",
        ),
        usual(
            LimitKey.COLUMN_LIQUID_PRESSURE, 10.0 * PASCAL_PER_PSI, "10 psi",
            "default of this program: maker's table of normal operating pressures, "
            "easymanua.ls/lennox/sca-series/manual?p=37",
            "another maker prints 10, too, manualshive.com/ru/manual/bard/w48a12/2707107?page=22",
        ),
        usual(
            LimitKey.COLUMN_SUCTION_PRESSURE, 5.0 * PASCAL_PER_PSI, "5 psi",
            "default of this program: maker's table of normal operating pressures, "
            "easymanua.ls/lennox/sca-series/manual?p=37",
            "another maker prints 4, manualshive.com/ru/manual/bard/w48a12/2707107?page=22",
        ),
        usual(
            LimitKey.COLUMN_DISCHARGE, 10.0 * F, "10 °F", PRACTICE,
            "the discharge line follows the weather and the charge of oil",
        ),
        usual(
            LimitKey.APPROACH_TOLERANCE, 1.0 * F, "1 °F",
            "default of this program: equipment manual, "
            "manualshive.com/en/manual/lennox/merit-13hpd018/1877800, page 16",
            "either way; counts where the job names an approach",
        ),
        usual(
            LimitKey.APPROACH_OUTDOOR_LOW, kelvin_from_fahrenheit(65.0), "65 °F",
            "default of this program: equipment manual, "
            "manualshive.com/en/manual/lennox/merit-13hpd018/1877800, page 16",
            "in colder air the approach says nothing",
        ),
        usual(
            LimitKey.SUPERHEAT_OUTDOOR_LOW, kelvin_from_fahrenheit(65.0), "65 °F", PRACTICE,
            "RA3.2 draws the line at 55 °F, the manual of the table at 40 °F",
        ),
        usual(
            LimitKey.SPLIT_TOLERANCE, 3.0 * F, "3 °F", f"{RA3}, temperature split, 2008",
            "of an installer, 4 °F of a verifier; counts beside the split of a maker's table",
        ),
        usual(
            LimitKey.STANDING_ALLOWED, 1.0, "1 K", ASSUMED,
            "what gas or a zero may be worth before it matters, as saturation temperature: "
            "about the smallest tolerance of a target",
        ),
        usual(
            LimitKey.STANDING_MOVED, 0.9, "0.9 K", ASSUMED,
            "two checks of one session; what was wrong from the beginning is in both",
        ),
        usual(
            LimitKey.STANDING_PLACE, 0.6, "0.6 K", ASSUMED,
            "k = 2, by air beside it; half the difference of outdoor and return air comes on top",
        ),
        usual(
            LimitKey.STANDING_REST, 300.0, "5 min", ASSUMED,
            "and nothing may move any more: what moves has not come to rest",
        ),
        usual(
            LimitKey.STANDING_EQUAL, 30e3, "30 kPa", ASSUMED,
            "sides further apart are parted by a shut valve and equalise in hours only",
        ),
        usual(
            LimitKey.STANDING_COOLED, 1.0, "1 K", ASSUMED,
            "behind a shut valve the liquid is then like that of a cylinder",
        ),
        usual(
            LimitKey.CYLINDER_REST, 4.0 * 3600.0, "4 h", f"{RA3}.2.4, gauge check, 2008",
            "an insulated sensor on its wall, out of the sun",
        ),
        usual(
            LimitKey.IDLE_CURRENT, 0.5, "0.5 A", ASSUMED,
            "where no frequency shows it; a crankcase heater or a board draws less",
        ),
        usual(
            LimitKey.PROBE_SETTLING, 90.0, "90 s", f"{RA3}.2.2.2.2, 2013",
            "for a step of more than 40 °F",
        ),
        usual(
            LimitKey.ICE_BATH_TOLERANCE, 1.0 * F, "1 °F", f"{RA3}.2.4.1, 2008",
            "off by more, its readings are corrected or it is calibrated",
        ),
        usual(
            LimitKey.ICE_BATH_REPLACE, 2.0 * F, "2 °F", f"{RA3}.2.4.1, 2008",
            "off by more, it is replaced",
        ),
        usual(
            LimitKey.ICE_BATH_ACCURACY, 0.1, "0.1 K", ASSUMED,
            "k = 2: crushed ice, well stirred; a bath made with care is far better",
        ),
        usual(
            LimitKey.FILTERS_PANELS, 1.0, "yes", PRACTICE,
            "nobody can tell afterwards what was read with a panel off",
        ),
        usual(
            LimitKey.VACUUM_STALL, 0.08, "8 %", ASSUMED,
            "a sound pull-down halves its pressure several times in that time, until the pump's "
            "own end",
        ),
        usual(
            LimitKey.ADDER_LOW, 0.85, "85 %", ASSUMED,
            "printed adders with metering indoors are 92 to 163 % of what the line holds",
        ),
        usual(
            LimitKey.ADDER_HIGH, 1.75, "175 %", ASSUMED,
            "the adder of the next larger diameter is 200 % and more",
        ),
        usual(
            LimitKey.ADDER_PARTLY, 0.3, "30 %", ASSUMED,
            "printed adders with metering outdoors are 45 to 82 % of what the line holds",
        ),
        usual(
            LimitKey.LINE_LENGTH_ACCURACY, 0.1, "0.1 m", ASSUMED,
            "half width of a length told or paced off; in the uncertainty of what is weighed in",
        ),
        usual(
            LimitKey.SCALE_ACCURACY, 0.0284, "1 oz",
            "default of this program: equipment manual, manualslib.com/manual/1937512, page 28",
            "the least such procedures accept",
        ),
        usual(
            LimitKey.CALIBRATION_AGE, 366.0 * 86_400.0, "366 d", PRACTICE,
            "instruments are calibrated once a year",
        ),
        usual(
            LimitKey.DISCHARGE_CLAMP, 4.0, "4 K", ASSUMED,
            "k = 2: 2 K of the probe and 2 K of its contact as limits",
        ),
        usual(
            LimitKey.PIPE_CONTACT, 0.3, "0.3 K", ASSUMED,
            "half width; in every budget of subcooling and superheat",
        ),
        usual(
            LimitKey.BAROMETER_ACCURACY, 1500.0, "15 hPa", ASSUMED,
            "half width: weather about the standard atmosphere of the site",
        ),
        usual(
            LimitKey.TIGHTNESS_GAUGE, 0.005, "0.5 %", ASSUMED,
            "half width, of the pressure; the verdict is then not certain",
        ),
        usual(
            LimitKey.TIGHTNESS_GAUGE_BY_HAND, 0.01, "1 %", ASSUMED,
            "half width, of the pressure; the verdict is then not certain",
        ),
        usual(
            LimitKey.TIGHTNESS_THERMOMETER, 1.0, "1 K", ASSUMED,
            "half width; the verdict is then not certain",
        ),
    )
)  # fmt: skip

USUAL: Final[Mapping[LimitKey, Limit]] = {**_OF_WORK, **IN_ORDER}
"""The default limits, by key."""

USUAL_PROFILE: Final = Profile(
    name="program-default", title="defaults of this program", limits=USUAL
)
"""The defaults as a profile; it comes after the job file and every profile the job names."""
