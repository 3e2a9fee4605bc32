"""The questions a job file is made of, in the order of the job; pure: answers in, questions out.

Answers are texts by key, in the order given; a blank one was skipped. The list of questions follows
from the answers, so that going back is taking the last answer away.
"""

from collections.abc import Iterator

from chargeassist.guide.stages.beginning import BEGINNINGS
from chargeassist.model.errors import ConfigError
from chargeassist.model.installation import Metering, Place, SafetyGroup, ShortLine
from chargeassist.model.judged import JUDGED
from chargeassist.model.limits import LimitKey, Method
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.limits import JobLimits, read_limits
from chargeassist.session.job.more_questions import more_questions
from chargeassist.session.job.overrides import OVERRIDES, groups
from chargeassist.session.job.question import Question as Question
from chargeassist.session.job.question import asked, choice
from chargeassist.session.job.source_questions import source_questions
from chargeassist.session.job.toml_table import TomlTable
from chargeassist.session.job.tree import (
    CHANGE,
    MORE,
    TABLE_WORD,
    Answers,
    tree_of,
)
from chargeassist.session.job.us_examples import in_us_units

_PLATE, _MANUAL = "unit plate", "unit's instructions"
_LABEL = "charging label or instructions of the unit"


def next_question(answers: Answers, path: str = "") -> Question | None:
    """Return the first question that has no answer yet; None when all have.

    Parameters
    ----------
    answers : mapping of str to str
    path : str
        Of the job file to be written: profiles of one's own lie beside it.
    """
    return next((q for q in questions(answers, path) if q.key not in answers), None)


def questions(answers: Answers, path: str = "") -> Iterator[Question]:
    """Yield all questions that follow from `answers`, the answered ones among them.

    Parameters
    ----------
    answers, path
        As of `next_question`.
    """
    found = _questions(answers, _limits(answers, path))
    yield from in_us_units(found) if answers.get("units") == "us" else found


def _questions(answers: Answers, limits: JobLimits) -> Iterator[Question]:
    yield from _job(answers)
    yield from _target(answers, limits)
    yield from _charge(answers, limits)
    yield from _unit(answers)
    yield from _line_set(answers)
    yield from _stages(answers)
    yield Question(
        key=MORE,
        ask="More questions: conditions of the test, cross-checks, range and age of the probes?",
        example="y",
        default="n",
        choices=("n", "y"),
    )
    if answers.get(MORE) == "y":
        yield from more_questions(answers, limits)
    yield from source_questions(answers)
    yield from _overrides(answers, limits)


def _overrides(answers: Answers, limits: JobLimits) -> Iterator[Question]:
    """Yield one question, and where the answer is yes, limits one by one: group, key and value.

    Every default of the program stands in the file as a comment besides.
    """
    yield Question(
        key=CHANGE,
        ask="Set limits of profile or program otherwise? All of them stand in the file as well",
        example="y",
        default="n",
        choices=("n", "y"),
    )
    if answers.get(CHANGE) != "y":
        return
    grouped = groups()
    for number in range(1, len(LimitKey) + 1):
        at = f"{OVERRIDES}.{number}"
        yield choice(f"{at}.group", "Of which group; Enter: no more", tuple(grouped))
        keys = grouped.get(answers.get(f"{at}.group", ""), ())
        if not keys:
            break
        yield choice(f"{at}.limit", "Which", tuple(key.value for key in keys), needed=True)
        said = answers.get(f"{at}.limit", "")
        if said not in [key.value for key in keys]:
            continue
        now = limits.find(LimitKey(said)) or USUAL.get(LimitKey(said))
        ask, example = LimitKey(said).words, "1"
        if now is not None:
            ask, example = f"{ask}; now {now.as_written}, {now.citation}", now.as_written
        yield asked(f"{at}.value", ask, example, needed=True)
    if answers.get(f"{OVERRIDES}.1.group"):
        ask, example = "Who sets these limits, and why", "house rule 7, 2026-05"
        yield asked(f"{OVERRIDES}.source", ask, example, needed=True)


def _source_of(answers: Answers, table: str, keys: tuple[str, ...], ask: str) -> Iterator[Question]:
    """Yield the question where numbers were read, needed as soon as there is one."""
    if any(answers.get(f"{table}.{key}") for key in keys):
        yield asked(f"{table}.source", ask, f"{_MANUAL}, page 12", needed=True)


def _job(answers: Answers) -> Iterator[Question]:
    yield asked(
        "name", "What is charged, in words", "Millrace Lane Library, reading room", needed=True
    )
    yield asked("refrigerant", "Refrigerant", "R-32", _PLATE, needed=True)
    yield Question(
        key="units",
        ask="Units on the screen: si (°C, kPa, g) or us (°F, psi, oz)",
        example="us",
        default="si",
        choices=("si", "us"),
    )
    yield asked(
        "site.altitude", "Altitude of the site; Enter: give a barometer instead", "210 m", "a map"
    )
    if answers.get("site.altitude", "x") == "":
        yield asked(
            "site.barometer",
            "Barometer: pressure at the site itself, not reduced to sea level",
            "98.8 kPa",
            "a barometer at the site",
            needed=True,
        )
    yield choice(
        "site.place",
        "Where the outdoor unit stands, for the caution about falling; Enter: not said",
        tuple(place.value for place in Place),
    )


def _limits(answers: Answers, path: str) -> JobLimits:
    """Return the limits of the profiles named so far; none where they cannot be used."""
    tree = tree_of({key: text for key, text in answers.items() if key == "profile"})
    method = Method(answers.get("target.method") or Method.SUBCOOLING)
    try:
        return read_limits(TomlTable(path, "", tree), method)
    except ConfigError:
        return JobLimits("", ())


def _target(answers: Answers, limits: JobLimits) -> Iterator[Question]:
    methods = tuple(method.value for method in JUDGED)
    yield choice("target.method", "What the charge is judged by", methods, _LABEL, needed=True)
    method = Method(answers.get("target.method") or Method.SUBCOOLING)
    yield asked(
        "profile",
        "Profiles of limits, by comma; chargeassist profiles lists them",
        "california-installer, evacuation-500-20",
    )
    if method is Method.SUPERHEAT:
        yield asked(
            "target.superheat",
            f'Target superheat, or "{TABLE_WORD}" to read it live from the published table',
            "8 °F",
            _LABEL,
            needed=True,
        )
    else:
        yield asked("target.subcooling", "Target subcooling", "5.0 K", _LABEL, needed=True)
    yield asked("target.source", "Where this target was read", _LABEL, needed=True)
    key = JUDGED[method].tolerance
    ask = "Tolerance of the target, plus and minus"
    if limits.has(key):
        ask += f"; Enter: that of the profile ({limits.citation(key)})"
    yield asked("target.tolerance", ask, "0.8 K", _LABEL, needed=not limits.has(key))
    if answers.get("target.superheat") == TABLE_WORD:
        yield asked(
            "target.return_wet_bulb", "Wet bulb of the return air, if no probe tells", "63 °F"
        )
        if answers.get("target.return_wet_bulb"):
            yield asked(
                "target.return_wet_bulb_source",
                "How the wet bulb was measured",
                "psychrometer at the return, 10:40",
                needed=True,
            )


def _charge(answers: Answers, limits: JobLimits) -> Iterator[Question]:
    yield asked("charge.plate", "Factory charge", "2.30 kg", _PLATE, needed=True)
    yield asked("charge.weighed_in", "In the circuit already, by scale; Enter: nothing", "1.90 kg")
    yield asked(
        "charge.scale_resolution", "Smallest step of the scale; Enter: 5 g (0.2 oz)", "5 g", "scale"
    )
    ask = "Largest amount to propose at once"
    if limits.has(LimitKey.STEP_CAP):
        ask += f"; Enter: that of the profile ({limits.citation(LimitKey.STEP_CAP)})"
    yield asked("charge.step_cap", ask, "110 g", _MANUAL, needed=not limits.has(LimitKey.STEP_CAP))
    yield asked(
        "charge.limit", "Most the circuit may ever hold", "2.9 kg", f"{_PLATE}, room's size"
    )
    if answers.get("charge.limit"):
        yield asked("charge.limit_source", "Where that was read", _PLATE, needed=True)
    if not answers.get("charge.weighed_in"):
        yield choice(
            "begins",
            "The stage the work begins with; Enter: the first test this file has what it needs for",
            tuple(stage.value for stage in BEGINNINGS),
        )
        if answers.get("begins", "") not in ("", BEGINNINGS[0].value):
            yield asked(
                "begins_source",
                "Why not before it: who did that, or why it is not needed",
                "tested and evacuated by the pipe crew, sheet 3",
                needed=True,
            )


_PLATE_KEYS = (
    ("high_side", "Test pressure of the high side", "4.2 MPa(g)"),
    ("low_side", "Test pressure of the low side", "2.4 MPa(g)"),
    ("rated_load", "Rated-load amps of the compressor", "14.2 A"),
    ("minimum_circuit", "Minimum circuit ampacity", "19 A"),
    ("voltage", "Rated voltage", "230 V"),
    ("phases", "Phases, 1 or 3", "1"),
    ("capacity", "Nominal cooling capacity", "3 tons"),
    ("room_area", "Smallest room allowed", "12 m2"),
)


def _unit(answers: Answers) -> Iterator[Question]:
    for key, example in (("make", "demonstration"), ("model", "DEMO-36"), ("serial", "0000")):
        yield asked(f"equipment.{key}", f"{key.capitalize()} of the unit", example, _PLATE)
    groups = tuple(group.value for group in SafetyGroup)
    yield choice("plate.safety_group", "Safety group of the refrigerant", groups, _PLATE)
    for key, ask, example in _PLATE_KEYS:
        yield asked(f"plate.{key}", ask, example, _PLATE)
    keys = ("safety_group", *(key for key, _, _ in _PLATE_KEYS))
    yield from _source_of(answers, "plate", keys, "Where these numbers of the plate were read")
    yield asked(
        "frequency.required",
        "Compressor frequency of the test; Enter: fixed speed",
        "72 Hz",
        _LABEL,
    )
    if answers.get("frequency.required"):
        yield asked("frequency.hold_lasts", "How long the unit holds it", "60 min", _MANUAL)
    yield asked("limits.liquid_pressure_high", "Highest liquid pressure", "4.0 MPa(g)", _PLATE)
    yield asked("limits.suction_pressure_low", "Lowest suction pressure", "80 psig", _MANUAL)
    yield asked(
        "limits.discharge_temperature_high", "Highest discharge temperature", "110 °C", _MANUAL
    )
    yield asked("limits.current_high", "Highest compressor amps", "16 A", _PLATE)


def _line_set(answers: Answers) -> Iterator[Question]:
    yield asked("line_set.length", "Length of the line set, one way", "12 m", "tape measure")
    if answers.get("line_set.length"):
        yield asked("line_set.lift", "Height between the units; Enter: level", "3 m")
        yield asked("line_set.included", "Length the factory charge includes", "7.5 m", _MANUAL)
        yield asked("line_set.liquid_diameter", "Liquid line, outside diameter", "3/8 in")
        yield asked("line_set.suction_diameter", "Suction line, outside diameter", "3/4 in")
        yield asked("line_set.adder", "Refrigerant per length of liquid line", "0.6 oz/ft", _MANUAL)
        if answers.get("line_set.adder"):
            yield asked(
                "line_set.adder_source", "Where that was read", f"{_MANUAL}, page 18", needed=True
            )
        yield choice(
            "line_set.short_line",
            "A line shorter than included: take refrigerant out, or leave it",
            tuple(short.value for short in ShortLine),
            _MANUAL,
        )
        yield choice(
            "line_set.metering", "Where the metering device is", tuple(m.value for m in Metering)
        )
    yield asked("cylinder.tare", "Tare of the cylinder", "5.9 kg", "stamped on it")
    yield asked(
        "cylinder.water_capacity", "Water capacity of the cylinder", "11.8 kg", "stamped on it"
    )
    yield asked("cylinder.gross", "The cylinder as it weighs now", "13.2 kg", "scale")


def _stages(answers: Answers) -> Iterator[Question]:
    yield asked(
        "tightness.steps",
        "Nitrogen steps, by semicolon; Enter: from plate and profile",
        "0.3 MPa(g) for 3 min; 1.5 MPa(g) for 3 min; 2.4 MPa(g) for 1 h",
        _MANUAL,
    )
    yield from _source_of(answers, "tightness", ("steps",), "Where the steps were read")
    yield asked("tightness.volume", "Volume of the circuit", "4.2 L", _MANUAL)
    yield asked("tightness.leak", "Loss the test must be able to see", "1 psi/h")
    yield asked(
        "dryness.target", "How deep to evacuate; Enter: by the profile", "500 micron", _MANUAL
    )
    yield asked("dryness.rise_limit", "What the rise test may reach", "500 micron", _MANUAL)
    yield asked("dryness.rise_time", "How long the rise test lasts", "20 min", _MANUAL)
    keys = ("target", "rise_limit", "rise_time")
    yield from _source_of(answers, "dryness", keys, "Where these were read")
    yield asked("dryness.coldest", "Coldest part of the circuit, if no probe tells", "12 °C")
    yield asked("electrical.amps", "Maker's amps at the frequency of the test", "11.6 A", _MANUAL)
    if answers.get("electrical.amps"):
        yield asked("electrical.tolerance", "Tolerance of those amps", "10 %", _MANUAL)
    yield from _source_of(answers, "electrical", ("amps",), "Where the amps were read")
    yield asked("air.design", "Design airflow", "1050 cfm", "duct design")
    yield from _source_of(answers, "air", ("design",), "Where the airflow was read")
    yield asked("crew.certificate", "Your certificate number", "U-0000")
    yield asked("crew.company", "Company", "of your own")
