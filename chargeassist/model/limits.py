"""Profiles of limits: every limit with its value, its source, its edition and its rank.

Honest sources give different numbers, so a limit is never a constant of the program. The order of
authority is: equipment instructions, adopted local code, standard, rule of thumb. A limit that was
written down from memory says so, and is a default to be replaced, never "what the standard says".
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final

from chargeassist.model.stage_plan import PressureStep


class Authority(IntEnum):
    """Rank of a source; the higher one wins."""

    RULE_OF_THUMB = 1
    STANDARD = 2
    LOCAL_CODE = 3
    EQUIPMENT = 4

    @property
    def words(self) -> str:
        """As in profile files and on screens."""
        return _AUTHORITY_WORDS[self]


_AUTHORITY_WORDS: Final = {
    Authority.EQUIPMENT: "equipment instructions",
    Authority.LOCAL_CODE: "adopted local code",
    Authority.STANDARD: "standard",
    Authority.RULE_OF_THUMB: "rule of thumb",
}


class Kind(StrEnum):
    """What a limit is a number of."""

    TEMP = "temperature"
    TEMP_DIFFERENCE = "temperature difference"
    PRESSURE_DIFFERENCE = "pressure difference"
    DURATION = "duration"
    FREQUENCY = "frequency"
    MASS = "mass"
    FRACTION = "fraction"
    AIRFLOW_PER_CAPACITY = "airflow per capacity"
    PRESSURE_ABSOLUTE = "absolute pressure"
    SIGHT = "look of somebody"  # no number: "yes" is the only value


class LimitKey(StrEnum):
    """What is limited."""

    SUBCOOLING_TOLERANCE = "subcooling_tolerance"
    SUPERHEAT_TOLERANCE = "superheat_tolerance"
    SUPERHEAT_LOW = "superheat_low"
    SUPERHEAT_HIGH = "superheat_high"
    APPROACH_TOLERANCE = "approach_tolerance"
    SPLIT_TOLERANCE = "split_tolerance"
    OUTDOOR_LOW = "outdoor_low"
    OUTDOOR_HIGH = "outdoor_high"
    INDOOR_LOW = "indoor_low"
    INDOOR_HIGH = "indoor_high"
    RUN_BEFORE_READING = "run_before_reading"
    WAIT_AFTER_CHANGE = "wait_after_change"
    FINAL_HOLD = "final_hold"
    AIRFLOW_LOW = "airflow_low"
    AIRFLOW_TOLERANCE = "airflow_tolerance"
    FILTERS_PANELS = "filters_panels"
    FREQUENCY_TOLERANCE = "frequency_tolerance"
    RAMP_LONGEST = "ramp_longest"
    HOLD_LASTS = "hold_lasts"
    HOLD_WARNING = "hold_warning"
    STEP_CAP = "step_cap"
    LIQUID_PRESSURE_ACCURACY = "liquid_pressure_accuracy"
    SUCTION_PRESSURE_ACCURACY = "suction_pressure_accuracy"
    TEMP_ACCURACY = "temperature_accuracy"
    PROBE_SETTLING = "probe_settling"
    ICE_BATH_TOLERANCE = "ice_bath_tolerance"
    ICE_BATH_REPLACE = "ice_bath_replace"
    CYLINDER_REST = "cylinder_rest"
    TIGHTNESS_HOLD = "tightness_hold"
    TIGHTNESS_RESOLUTION = "tightness_resolution"
    TIGHTNESS_THERE = "tightness_there"
    TIGHTNESS_OVER = "tightness_over"
    TIGHTNESS_FALL = "tightness_fall"
    TIGHTNESS_SETTLING = "tightness_settling"
    TIGHTNESS_ATMOSPHERE = "tightness_atmosphere"
    VACUUM_TARGET = "vacuum_target"
    VACUUM_RISE_LIMIT = "vacuum_rise_limit"
    VACUUM_RISE_TIME = "vacuum_rise_time"
    VACUUM_EQUALISATION = "vacuum_equalisation"
    VACUUM_DEEPENS = "vacuum_deepens"
    VACUUM_STEADY_RISE = "vacuum_steady_rise"
    VOLTAGE_TOLERANCE = "voltage_tolerance"
    VOLTAGE_UNBALANCE_AIM = "voltage_unbalance_aim"
    VOLTAGE_UNBALANCE_HIGH = "voltage_unbalance_high"
    CYLINDER_FILL = "cylinder_fill"
    FLOODBACK_TIME = "floodback_time"
    IMPOSSIBLE_READING = "impossible_reading"
    SHORTAGE_SUBCOOLING = "shortage_subcooling"
    OVERFED_SUBCOOLING = "overfed_subcooling"
    TYPED_LASTS = "typed_lasts"
    TYPED_TOGETHER = "typed_together"

    @property
    def kind(self) -> Kind:
        """What it is a number of; the SI unit follows from it."""
        return _KIND[self]

    @property
    def words(self) -> str:
        """What is limited, as it stands on screens, in lines and in reports."""
        return _WORDS.get(self, self.value.replace("_", " "))


_WORDS: Final = {
    LimitKey.HOLD_WARNING: "warning before the test mode ends",
    LimitKey.TIGHTNESS_HOLD: "standing pressure test, time",
    LimitKey.TIGHTNESS_RESOLUTION: "pressure test gauge, step",
    LimitKey.TIGHTNESS_THERE: "pressure step reached, short of it by",
    LimitKey.TIGHTNESS_OVER: "pressure step too high, over it by",
    LimitKey.TIGHTNESS_FALL: "pressure step falling, by",
    LimitKey.TIGHTNESS_SETTLING: "pressure test, left out at the start",
    LimitKey.TIGHTNESS_ATMOSPHERE: "pressure test without barometer, atmosphere changes by",
    LimitKey.VACUUM_TARGET: "vacuum, down to",
    LimitKey.VACUUM_RISE_LIMIT: "rise test, highest",
    LimitKey.VACUUM_RISE_TIME: "rise test, time",
    LimitKey.VACUUM_EQUALISATION: "rise test, left out at the start",
    LimitKey.VACUUM_DEEPENS: "vacuum still dries, falling a minute by",
    LimitKey.VACUUM_STEADY_RISE: "rise test, a steady rise is a leak from",
    LimitKey.CYLINDER_FILL: "cylinder, most it may hold",
    LimitKey.FLOODBACK_TIME: "low superheat after a step, at most for",
    LimitKey.IMPOSSIBLE_READING: "reading below zero that cannot be",
    LimitKey.SHORTAGE_SUBCOOLING: "no shortage of charge above a subcooling of",
    LimitKey.OVERFED_SUBCOOLING: "not too much charge below a subcooling of",
    LimitKey.TYPED_LASTS: "typed reading counts for",
    LimitKey.TYPED_TOGETHER: "typed readings are one within",
}
"""Where the key alone would not say it."""

_KIND: Final = {
    **dict.fromkeys(
        (
            LimitKey.SUBCOOLING_TOLERANCE,
            LimitKey.SUPERHEAT_TOLERANCE,
            LimitKey.SUPERHEAT_LOW,
            LimitKey.SUPERHEAT_HIGH,
            LimitKey.APPROACH_TOLERANCE,
            LimitKey.SPLIT_TOLERANCE,
            LimitKey.TEMP_ACCURACY,
            LimitKey.ICE_BATH_TOLERANCE,
            LimitKey.ICE_BATH_REPLACE,
            LimitKey.IMPOSSIBLE_READING,
            LimitKey.SHORTAGE_SUBCOOLING,
            LimitKey.OVERFED_SUBCOOLING,
        ),
        Kind.TEMP_DIFFERENCE,
    ),
    **dict.fromkeys(
        (
            LimitKey.OUTDOOR_LOW,
            LimitKey.OUTDOOR_HIGH,
            LimitKey.INDOOR_LOW,
            LimitKey.INDOOR_HIGH,
        ),
        Kind.TEMP,
    ),
    **dict.fromkeys(
        (
            LimitKey.RUN_BEFORE_READING,
            LimitKey.WAIT_AFTER_CHANGE,
            LimitKey.FINAL_HOLD,
            LimitKey.RAMP_LONGEST,
            LimitKey.HOLD_LASTS,
            LimitKey.PROBE_SETTLING,
            LimitKey.CYLINDER_REST,
            LimitKey.TIGHTNESS_HOLD,
            LimitKey.VACUUM_RISE_TIME,
            LimitKey.VACUUM_EQUALISATION,
            LimitKey.HOLD_WARNING,
            LimitKey.TIGHTNESS_SETTLING,
            LimitKey.FLOODBACK_TIME,
            LimitKey.TYPED_LASTS,
            LimitKey.TYPED_TOGETHER,
        ),
        Kind.DURATION,
    ),
    **dict.fromkeys(
        (LimitKey.VACUUM_TARGET, LimitKey.VACUUM_RISE_LIMIT),
        Kind.PRESSURE_ABSOLUTE,
    ),
    **dict.fromkeys(
        (
            LimitKey.TIGHTNESS_RESOLUTION,
            LimitKey.VOLTAGE_TOLERANCE,
            LimitKey.VOLTAGE_UNBALANCE_AIM,
            LimitKey.VOLTAGE_UNBALANCE_HIGH,
            LimitKey.CYLINDER_FILL,
            LimitKey.TIGHTNESS_THERE,
            LimitKey.TIGHTNESS_OVER,
            LimitKey.TIGHTNESS_FALL,
            LimitKey.VACUUM_DEEPENS,
            LimitKey.VACUUM_STEADY_RISE,
        ),
        Kind.FRACTION,
    ),
    LimitKey.AIRFLOW_LOW: Kind.AIRFLOW_PER_CAPACITY,
    LimitKey.AIRFLOW_TOLERANCE: Kind.FRACTION,
    LimitKey.FREQUENCY_TOLERANCE: Kind.FREQUENCY,
    LimitKey.STEP_CAP: Kind.MASS,
    LimitKey.LIQUID_PRESSURE_ACCURACY: Kind.PRESSURE_DIFFERENCE,
    LimitKey.SUCTION_PRESSURE_ACCURACY: Kind.PRESSURE_DIFFERENCE,
    LimitKey.TIGHTNESS_ATMOSPHERE: Kind.PRESSURE_DIFFERENCE,
    LimitKey.FILTERS_PANELS: Kind.SIGHT,
}


class Method(StrEnum):
    """Ways to judge a charge that a profile can forbid."""

    SUBCOOLING = "subcooling"
    SUPERHEAT = "superheat"
    APPROACH = "approach"
    WEIGH_IN = "weigh-in"


_SAME: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit.

    Attributes
    ----------
    key : LimitKey
    value_si : float
        In the SI unit of ``key.kind`` [K, Pa, s, Hz, kg, 1 or m3/s per W].
    as_written : str
        The value with its unit, as in the source.
    source, edition, address : str
        Document, its edition or year, and where it was read.
    authority : Authority
    from_memory : bool
        It was not read in the document.
    strict : bool
        The limit itself does not pass ("more than 300 cfm/ton").
    note : str
    """

    key: LimitKey
    value_si: float
    as_written: str
    source: str
    edition: str
    authority: Authority
    address: str = ""
    from_memory: bool = False
    strict: bool = False
    note: str = ""

    @property
    def lowest_si(self) -> float:
        """Least value that passes a lower limit [SI].

        A strict limit does not pass itself. A billionth aside it is the same number: 300 cfm/ton
        reached through other units must not pass, or fail, by its rounding.
        """
        return self.value_si * (1.0 + _SAME if self.strict else 1.0 - _SAME)

    @property
    def citation(self) -> str:
        """The source in one line for a screen or a record."""
        parts = [self.source, *([self.edition] if self.edition else [])]
        text = f"{', '.join(parts)} ({self.authority.words})"
        return f"{text}, from memory" if self.from_memory else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A named set of limits.

    Attributes
    ----------
    name : str
        Short, for files: "a-z 0-9 -".
    title, note : str
    limits : mapping of LimitKey to Limit
        A key that is not there is not limited by this profile.
    forbids : frozenset of Method
        Ways of judging the charge that the source rules out.
    role : str
        Whose limits these are, where a source gives several: "installer", "verifier".
    raises : tuple of PressureStep
        Steps of a staged raise of the test pressure, before the plate's own.
    """

    name: str
    title: str
    limits: Mapping[LimitKey, Limit]
    note: str = ""
    forbids: frozenset[Method] = frozenset()
    role: str = ""
    raises: tuple[PressureStep, ...] = ()

    def limit(self, key: LimitKey) -> Limit | None:
        """Return the limit of `key`, None where the profile has none."""
        return self.limits.get(key)

    @property
    def fingerprint(self) -> str:
        """SHA-256 over all that decides a verdict, for the record: 64 hexadecimal digits."""
        rows = [
            (key.value, repr(limit.value_si), limit.strict, limit.citation)
            for key, limit in sorted(self.limits.items())
        ]
        steps = [(repr(s.pressure_pa_gauge), repr(s.hold_s), s.source) for s in self.raises]
        text = json.dumps([self.name, rows, sorted(self.forbids), steps], ensure_ascii=True)
        return hashlib.sha256(text.encode("ascii")).hexdigest()


def resolve(profiles: Iterable[Profile], key: LimitKey) -> Limit | None:
    """Return the limit that counts: of the highest authority, of the earliest profile among equals.

    Parameters
    ----------
    profiles : iterable of Profile
        In the order of choice, for example the job's profile, then the house default.
    key : LimitKey
    """
    found = [limit for profile in profiles if (limit := profile.limit(key)) is not None]
    return max(found, key=lambda limit: limit.authority, default=None)
