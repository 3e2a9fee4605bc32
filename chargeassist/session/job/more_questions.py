"""What a job file can hold besides: asked only of those who want to be asked."""

from collections.abc import Iterator, Mapping
from typing import Final

from chargeassist.model.limits import LimitKey, Method
from chargeassist.model.usual_limit import OF_THE_PROGRAM
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.limits import (
    CONDITIONS,
    DRYNESS_LIMITS,
    TIGHTNESS_LIMITS,
    JobLimits,
)
from chargeassist.session.job.performance import TOLERANCES
from chargeassist.session.job.question import Question, asked

_MANUAL: Final = "unit's instructions"

_CONDITIONS: Final[Mapping[LimitKey, tuple[str, str]]] = {
    LimitKey.OUTDOOR_LOW: ("Outdoor air, at least", "60 °F"),
    LimitKey.OUTDOOR_HIGH: ("Outdoor air, at most", "115 °F"),
    LimitKey.INDOOR_LOW: ("Indoor air, at least", "70 °F"),
    LimitKey.INDOOR_HIGH: ("Indoor air, at most", "85 °F"),
    LimitKey.RUN_BEFORE_READING: ("Run before a reading counts", "15 min"),
    LimitKey.WAIT_AFTER_CHANGE: ("Wait after a charge step", "10 min"),
    LimitKey.FINAL_HOLD: ("How long the final reading is held", "5 min"),
    LimitKey.AIRFLOW_LOW: ("Indoor airflow, at least", "350 cfm/ton"),
    LimitKey.FILTERS_PANELS: ("Filter and panels seen before a reading counts", "yes"),
    LimitKey.RAMP_LONGEST: ("How long the unit takes to its test frequency, at most", "3 min"),
    LimitKey.HOLD_WARNING: ("Warn so long before the test mode ends", "5 min"),
    LimitKey.FLOODBACK_TIME: ("Low superheat is no effect of a step after", "2 min"),
    LimitKey.IMPOSSIBLE_READING: ("A reading so far below zero is none", "3 K"),
    LimitKey.SHORTAGE_SUBCOOLING: ("A shortage has less subcooling than", "3 K"),
    LimitKey.OVERFED_SUBCOOLING: ("Too much charge has more subcooling than", "1 K"),
    LimitKey.TYPED_LASTS: ("A typed reading counts for", "15 min"),
    LimitKey.AIRFLOW_TOLERANCE: ("Airflow may be off its design by", "15 %"),
    LimitKey.VOLTAGE_TOLERANCE: ("Supply voltage may be off the plate's by", "10 %"),
    LimitKey.VOLTAGE_UNBALANCE_AIM: ("Voltage unbalance aimed at", "1 %"),
    LimitKey.VOLTAGE_UNBALANCE_HIGH: ("Voltage unbalance at most", "5 %"),
    LimitKey.CYLINDER_FILL: ("A cylinder is filled to, of its water capacity", "80 %"),
}

_TIGHTNESS: Final = (
    ("left_out", "Left out after the supply is shut", "10 min"),
    ("counts_as_reached", "So far below a step counts as there", "2 %"),
    ("counts_as_too_high", "So far over the highest pressure is too high", "0.5 %"),
    ("counts_as_falling", "A fall in a short hold that is a leak", "3 %"),
    ("atmosphere", "What the atmosphere may change without a barometer", "5 hPa"),
    ("gauge_step", "Smallest step of the gauge, of the test pressure", "5 %"),
    ("typed_together", "Pressure and pipes typed within so long are one reading", "5 min"),
)
_DRYNESS: Final = (
    ("equalisation", "Left out at the start of the rise test", "2 min"),
    ("still_dries", "Pumping on dries while the vacuum falls by more, a minute", "1 %"),
    ("counts_as_leak", "A steady rise in one hold, of the limit, that is a leak", "10 %"),
)
_INSTRUMENTS: Final = (
    ("tightness.gauge_accuracy", "the nitrogen gauge", "0.2 bar"),
    ("tightness.thermometer_accuracy", "the pipe thermometer", "0.5 K"),
    ("dryness.gauge_accuracy", "the vacuum gauge", "10 % of reading"),
    ("charging.gauge_accuracy", "the charging gauge, liquid side", "2 psi"),
    ("charging.suction_gauge_accuracy", "the charging gauge, suction side", "1 psi"),
    ("charging.thermometer_accuracy", "the line thermometer", "0.5 K"),
    ("electrical.amps_accuracy", "the amp clamp", "2 % of reading + 0.1 A"),
    ("electrical.voltage_accuracy", "the volt meter", "1 % of reading"),
    ("air.airflow_accuracy", "the airflow measurement", "7 % of reading"),
)
_COLUMN: Final = (
    ("liquid_pressure", "Liquid pressure in that column", "340 psig"),
    ("suction_pressure", "Suction pressure in that column", "135 psig"),
    ("discharge_temperature", "Discharge temperature in that column", "162 °F"),
    ("air_split", "Return less supply air in that column", "19 °F"),
)


def more_questions(answers: Mapping[str, str], limits: JobLimits) -> Iterator[Question]:
    """Yield the questions about conditions, cross-checks, instruments and processing.

    Parameters
    ----------
    answers : mapping of str to str
    limits : JobLimits
        Those of the profiles named so far: what they hold need not be typed.
    """
    yield asked(
        "site.outdoor_air", "Outdoor air at the coil, where no probe tells; Enter: a probe", "24 °C"
    )
    yield from _conditions(answers, limits)
    yield from _of_a_stage(answers, "tightness", _TIGHTNESS, TIGHTNESS_LIMITS, ("steps",))
    yield from _of_a_stage(
        answers, "dryness", _DRYNESS, DRYNESS_LIMITS, ("target", "rise_limit", "rise_time")
    )
    for key, what, example in _INSTRUMENTS:
        yield asked(key, f"Accuracy of {what}, where it is read off and typed", example)
    if any(answers.get(key) for key, _, _ in _INSTRUMENTS if key.startswith("charging.")):
        yield asked(
            "charging.source", "Where those of gauge and thermometer were read", "data sheet"
        )
    yield from _performance(answers)
    yield from _heat(answers)
    yield from _beside_the_target(answers)
    yield asked(
        "charge.line_set_allowance",
        "What the line set takes, typed as it is; Enter: by length and adder",
        "4 oz",
        _MANUAL,
    )
    if answers.get("frequency.required"):
        yield asked("frequency.tolerance", "Tolerance of the frequency; Enter: 1 Hz", "1 Hz")
    yield asked(
        "limits.source", "Where the highest and lowest pressures and amps were read", "unit plate"
    )
    yield asked(
        "processing.minimum_wait",
        "Wait after a change before a reading may settle; Enter: by profile, else a minute",
        "60 s",
    )
    yield asked("processing.period", "How often a verdict is made; Enter: 1 s", "1 s")
    band = _usual(LimitKey.SETTLED_BAND)
    yield asked(
        "processing.settled_band",
        f"Settled: no more than this is to come; Enter: by profile, else {band}",
        "0.3 K",
    )


def _beside_the_target(answers: Mapping[str, str]) -> Iterator[Question]:
    if answers.get("target.method") == Method.SUPERHEAT:
        highest = _usual(LimitKey.SUBCOOLING_HIGH)
        words = f"Subcooling, at most; Enter: by profile, else {highest}"
        yield asked("target.subcooling_high", words, highest, _MANUAL)
        if answers.get("target.subcooling_high"):
            yield asked("target.subcooling_source", "Where that was read", _MANUAL, needed=True)
    yield asked(
        "target.approach",
        "Approach, liquid line over outdoor air, as a cross-check",
        "9 °F",
        _MANUAL,
    )
    if answers.get("target.approach"):
        yield asked(
            "target.approach_tolerance",
            f"Its tolerance; Enter: by profile, else {_usual(LimitKey.APPROACH_TOLERANCE)}",
            "1 °F",
            _MANUAL,
        )
        yield asked(
            "target.approach_source", "Where the approach was read", "unit's table", needed=True
        )
    for key, ask, example in (
        ("superheat_low", "Superheat, at least; Enter: by profile, else 4 °F", "5 °F"),
        ("superheat_high", "Superheat, at most; Enter: by profile, else 25 °F", "20 °F"),
    ):
        yield asked(f"target.{key}", ask, example, _MANUAL)
    if answers.get("target.superheat_low") or answers.get("target.superheat_high"):
        yield asked(
            "target.superheat_source", "Where that was read", f"{_MANUAL}, page 12", needed=True
        )


def _conditions(answers: Mapping[str, str], limits: JobLimits) -> Iterator[Question]:
    for key in CONDITIONS:
        ask, example = _CONDITIONS[key]
        if limits.has(key):
            said = limits.citation(key)
            whose = "" if said.startswith(OF_THE_PROGRAM) else "that of the profile, "
            ask += f"; Enter: {whose}{limits.one(key).as_written} ({said})"
        yield asked(f"conditions.{key.value}", ask, example, _MANUAL)
    if any(answers.get(f"conditions.{key.value}") for key in CONDITIONS):
        yield asked(
            "conditions.source", "Where these were read", f"{_MANUAL}, page 12", needed=True
        )


def _usual(key: LimitKey) -> str:
    """Return what counts where neither job nor profile says a limit, in words."""
    usual = USUAL.get(key)
    return "none" if usual is None else usual.as_written


def _of_a_stage(
    answers: Mapping[str, str],
    table: str,
    keys: tuple[tuple[str, str, str], ...],
    limits: Mapping[str, LimitKey],
    asked_before: tuple[str, ...],
) -> Iterator[Question]:
    """Yield limits of one table, and where they were read unless that was asked before."""
    for key, ask, example in keys:
        usual = _usual(limits[key])
        yield asked(f"{table}.{key}", f"{ask}; Enter: by profile, else {usual}", example, _MANUAL)
    said = any(answers.get(f"{table}.{key}") for key, _, _ in keys)
    if said and not any(answers.get(f"{table}.{key}") for key in asked_before):
        yield asked(f"{table}.source", "Where these were read", f"{_MANUAL}, page 11", needed=True)


def _performance(answers: Mapping[str, str]) -> Iterator[Question]:
    """Yield the column of the maker's performance table for today's weather."""
    yield asked(
        "performance.outdoor", "A column of the maker's table: its outdoor air", "85 °F", _MANUAL
    )
    if not answers.get("performance.outdoor"):
        return
    yield asked(
        "performance.source", "Where the table was read", f"{_MANUAL}, page 23", needed=True
    )
    for key, ask, example in _COLUMN:
        yield asked(f"performance.{key}", ask, example, _MANUAL)
        if answers.get(f"performance.{key}"):
            tolerance = _usual(TOLERANCES[key])
            yield asked(
                f"performance.{key}_tolerance",
                f"Its tolerance; Enter: by profile, else {tolerance}",
                tolerance,
            )
    needed = bool(answers.get("performance.suction_pressure"))
    yield asked("performance.return_air", "Return air of that column", "80 °F", needed=needed)


def _heat(answers: Mapping[str, str]) -> Iterator[Question]:
    """Yield what airflow by heat balance is reckoned with."""
    yield asked(
        "air.heat",
        "Airflow by heat balance: what heater or furnace puts into the air, compressor off",
        "9.6 kW",
        "heater's plate; of a furnace input times efficiency",
    )
    if answers.get("air.heat"):
        yield asked("air.heat_accuracy", "Its accuracy", "5 % of reading")
        yield asked("air.heat_source", "Where that was read", "heater's plate", needed=True)


def more_of_a_probe(key: str, unit: str) -> Iterator[Question]:
    """Yield what else a probe can be told.

    Parameters
    ----------
    key : str
        Of the probe: "source.1.liquid_pressure".
    unit : str
        That it sends, for the examples.
    """
    sheet = "data sheet of the probe"
    yield asked(f"{key}.name", "Its name in the record; Enter: what it measures", "liquid_line")
    yield asked(f"{key}.reference", "A pressure: gauge or absolute; Enter: by its unit", "gauge")
    yield asked(f"{key}.offset", "What is added to its number; Enter: 0", "0.4")
    yield asked(f"{key}.low", "Lowest value it can read", f"0 {unit}", sheet)
    yield asked(f"{key}.high", "Highest value it can read", f"800 {unit}", sheet)
    yield asked(f"{key}.resolution", "Smallest step it shows", f"0.1 {unit}", sheet)
    yield asked(
        f"{key}.max_age", "After how long without a value it counts as silent; Enter: 10 s", "10 s"
    )
