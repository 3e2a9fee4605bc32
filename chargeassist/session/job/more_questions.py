"""What a job file can hold besides: asked only of those who want to be asked."""

from collections.abc import Iterator, Mapping
from typing import Final

from chargeassist.model.limits import LimitKey
from chargeassist.session.job.limits import CONDITIONS, JobLimits
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
}


def more_questions(answers: Mapping[str, str], limits: JobLimits) -> Iterator[Question]:
    """Yield the questions about conditions, cross-checks and processing.

    Parameters
    ----------
    answers : mapping of str to str
    limits : JobLimits
        Those of the profiles named so far: what they hold need not be typed.
    """
    yield from _conditions(answers, limits)
    yield asked(
        "target.approach",
        "Approach, liquid line over outdoor air, as a cross-check",
        "9 °F",
        _MANUAL,
    )
    if answers.get("target.approach"):
        yield asked("target.approach_tolerance", "Its tolerance; Enter: 1 °F", "1 °F", _MANUAL)
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
    yield asked("processing.period", "How often a verdict is made; Enter: 1 s", "1 s")
    yield asked(
        "processing.settled_band", "Settled: no more than this is to come; Enter: 0.3 K", "0.3 K"
    )


def _conditions(answers: Mapping[str, str], limits: JobLimits) -> Iterator[Question]:
    for key in CONDITIONS:
        ask, example = _CONDITIONS[key]
        if limits.has(key):
            ask += f"; Enter: that of the profile ({limits.citation(key)})"
        yield asked(f"conditions.{key.value}", ask, example, _MANUAL)
    if any(answers.get(f"conditions.{key.value}") for key in CONDITIONS):
        yield asked(
            "conditions.source", "Where these were read", f"{_MANUAL}, page 12", needed=True
        )


def more_of_a_probe(key: str, unit: str) -> Iterator[Question]:
    """Yield what else a probe can be told.

    Parameters
    ----------
    key : str
        Of the probe: "source.1.liquid_pressure".
    unit : str
        Its unit, for the examples.
    """
    sheet = "data sheet of the probe"
    yield asked(f"{key}.low", "Lowest value it can read", f"0 {unit}", sheet)
    yield asked(f"{key}.high", "Highest value it can read", f"800 {unit}", sheet)
    yield asked(f"{key}.resolution", "Smallest step it shows", f"0.1 {unit}", sheet)
    yield asked(
        f"{key}.max_age", "After how long without a value it counts as silent; Enter: 10 s", "10 s"
    )
