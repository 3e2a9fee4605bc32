"""The keys of all limits, with their quantity and their words."""

from enum import StrEnum
from typing import Final


class Kind(StrEnum):
    """The quantity of a limit."""

    TEMP = "temperature"
    TEMP_DIFFERENCE = "temperature difference"
    PRESSURE_DIFFERENCE = "pressure difference"
    DURATION = "duration"
    FREQUENCY = "frequency"
    MASS = "mass"
    FRACTION = "fraction"
    AIRFLOW_PER_CAPACITY = "airflow per capacity"
    PRESSURE_ABSOLUTE = "absolute pressure"
    CURRENT = "current"
    COUNT = "count"
    LENGTH = "length"
    SIGHT = "look of somebody"  # no number: the only value is "yes"


class LimitKey(StrEnum):
    """Every limit of the program; the values are the names in job files and profiles."""

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
    ICE_BATH_ACCURACY = "ice_bath_accuracy"
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
    SUBCOOLING_HIGH = "subcooling_high"
    SHORTAGE_SUBCOOLING = "shortage_subcooling"
    OVERFED_SUBCOOLING = "overfed_subcooling"
    TYPED_LASTS = "typed_lasts"
    TYPED_TOGETHER = "typed_together"
    HAND_LASTS = "hand_lasts"
    HAND_TOGETHER = "hand_together"
    HAND_PACE = "hand_pace"
    HAND_PACE_SETTLED = "hand_pace_settled"
    HAND_READINGS = "hand_readings"
    HAND_SPAN = "hand_span"
    EYE_PRESSURE = "eye_pressure"
    EYE_TEMPERATURE = "eye_temperature"
    EYE_VACUUM = "eye_vacuum"
    EYE_VACUUM_STEP = "eye_vacuum_step"
    TIGHTNESS_READINGS = "tightness_readings"
    VACUUM_READINGS = "vacuum_readings"
    TYPED_AIR_LASTS = "typed_air_lasts"
    TYPED_AIR_ACCURACY = "typed_air_accuracy"
    HEATER_LASTS = "heater_lasts"
    SETTLED_BAND = "settled_band"
    OVERSHOOT_CHANCE = "overshoot_chance"
    COLUMN_OUTDOOR = "column_outdoor"
    COLUMN_WEATHER = "column_weather"
    COLUMN_LIQUID_PRESSURE = "column_liquid_pressure"
    COLUMN_SUCTION_PRESSURE = "column_suction_pressure"
    COLUMN_DISCHARGE = "column_discharge"
    APPROACH_OUTDOOR_LOW = "approach_outdoor_low"
    SUPERHEAT_OUTDOOR_LOW = "superheat_outdoor_low"
    STANDING_ALLOWED = "standing_allowed"
    STANDING_MOVED = "standing_moved"
    STANDING_PLACE = "standing_place"
    STANDING_REST = "standing_rest"
    STANDING_EQUAL = "standing_equal"
    STANDING_COOLED = "standing_cooled"
    IDLE_CURRENT = "idle_current"
    VACUUM_STALL = "vacuum_stall"
    ADDER_LOW = "adder_low"
    ADDER_HIGH = "adder_high"
    ADDER_PARTLY = "adder_partly"
    LINE_LENGTH_ACCURACY = "line_length_accuracy"
    SCALE_ACCURACY = "scale_accuracy"
    CALIBRATION_AGE = "calibration_age"
    CONDENSING_LOW = "condensing_low"
    CONDENSING_HIGH = "condensing_high"
    CONDENSING_HIGH_HELD = "condensing_high_held"
    BOILING_LEAST = "boiling_least"
    BOILING_MOST = "boiling_most"
    SPLIT_LOW = "split_low"
    SPLIT_HIGH = "split_high"
    SPLIT_ROOM = "split_room"
    BOILING_ROOM = "boiling_room"
    COIL_SHARE = "coil_share"
    HUMIDITY_LOW = "humidity_low"
    HUMIDITY_HIGH = "humidity_high"
    APPROACH_LOW = "approach_low"
    AMOUNT_WITHIN = "amount_within"
    AMOUNT_OVER = "amount_over"
    EFFICIENCY_LOW = "efficiency_low"
    EFFICIENCY_HIGH = "efficiency_high"
    RATED_LOAD_LOW = "rated_load_low"
    DISCHARGE_CLAMP = "discharge_clamp"
    PIPE_CONTACT = "pipe_contact"
    BAROMETER_ACCURACY = "barometer_accuracy"
    TIGHTNESS_GAUGE = "tightness_gauge"
    TIGHTNESS_GAUGE_BY_HAND = "tightness_gauge_by_hand"
    TIGHTNESS_THERMOMETER = "tightness_thermometer"

    @property
    def kind(self) -> Kind:
        """Its quantity, which gives the SI unit."""
        return _KIND[self]

    @property
    def words(self) -> str:
        """What is limited, as shown on screens and in reports."""
        return _WORDS.get(self, self.value.replace("_", " "))


_WORDS: Final = {
    LimitKey.FILTERS_PANELS: "filter and panels",
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
    LimitKey.SUBCOOLING_HIGH: "judged by superheat, subcooling at most",
    LimitKey.SHORTAGE_SUBCOOLING: "no shortage of charge above a subcooling of",
    LimitKey.OVERFED_SUBCOOLING: "not too much charge below a subcooling of",
    LimitKey.TYPED_LASTS: "typed reading counts for",
    LimitKey.TYPED_TOGETHER: "typed readings are one within",
    LimitKey.HAND_LASTS: "reading by hand counts for",
    LimitKey.HAND_TOGETHER: "by hand, pressure and pipe are one reading within",
    LimitKey.HAND_PACE: "by hand, read again after",
    LimitKey.HAND_PACE_SETTLED: "by hand, read again once settled after",
    LimitKey.HAND_READINGS: "by hand, settled by at least",
    LimitKey.HAND_SPAN: "by hand, settled over at least",
    LimitKey.EYE_PRESSURE: "by hand, pressure read to",
    LimitKey.EYE_TEMPERATURE: "by hand, pipe temperature read to",
    LimitKey.EYE_VACUUM: "by hand, vacuum read to",
    LimitKey.EYE_VACUUM_STEP: "by hand, digits of the vacuum run by",
    LimitKey.TIGHTNESS_READINGS: "pressure test by hand, certain with at least",
    LimitKey.VACUUM_READINGS: "rise test by hand, certain with at least",
    LimitKey.TYPED_AIR_LASTS: "typed outdoor air and wet bulb count for",
    LimitKey.TYPED_AIR_ACCURACY: "typed air temperature, good to",
    LimitKey.HEATER_LASTS: "heater told of counts for",
    LimitKey.SETTLED_BAND: "settled: still to come no more than",
    LimitKey.OVERSHOOT_CHANCE: "charge step past the band, chance at most",
    LimitKey.COLUMN_OUTDOOR: "maker's table counts within, of its outdoor air",
    LimitKey.COLUMN_WEATHER: "maker's table in other weather, wider by, of the difference",
    LimitKey.COLUMN_LIQUID_PRESSURE: "liquid pressure off the maker's by at most",
    LimitKey.COLUMN_SUCTION_PRESSURE: "suction pressure off the maker's by at most",
    LimitKey.COLUMN_DISCHARGE: "discharge temperature off the maker's by at most",
    LimitKey.APPROACH_OUTDOOR_LOW: "approach counts from outdoor air of",
    LimitKey.SUPERHEAT_OUTDOOR_LOW: "superheat table is weak below outdoor air of",
    LimitKey.STANDING_ALLOWED: "pressure at rest, off saturation by at most",
    LimitKey.STANDING_MOVED: "pressure at rest, moved since the first check by at most",
    LimitKey.STANDING_PLACE: "pressure at rest, temperature of its liquid known to",
    LimitKey.STANDING_REST: "pressure at rest, unit stands for at least",
    LimitKey.STANDING_EQUAL: "pressure at rest, both sides equal within",
    LimitKey.STANDING_COOLED: "pressure at rest, liquid line cooled to outdoor air within",
    LimitKey.IDLE_CURRENT: "compressor stands below",
    LimitKey.VACUUM_STALL: "vacuum stalls, falling in five minutes by less than",
    LimitKey.ADDER_LOW: "line-set adder, of a line full of liquid at least",
    LimitKey.ADDER_HIGH: "line-set adder, of a line full of liquid at most",
    LimitKey.ADDER_PARTLY: "line-set adder with metering outdoors at least",
    LimitKey.LINE_LENGTH_ACCURACY: "line set, length told to",
    LimitKey.SCALE_ACCURACY: "scale without declared accuracy, good to",
    LimitKey.CALIBRATION_AGE: "calibration, looked at again after",
    LimitKey.SPLIT_TOLERANCE: "temperature split off the maker's by at most",
    LimitKey.PROBE_SETTLING: "pipe clamp put on has come to its pipe within",
    LimitKey.ICE_BATH_TOLERANCE: "temperature probe in ice water, off by at most",
    LimitKey.ICE_BATH_REPLACE: "temperature probe in ice water, replaced from",
    LimitKey.ICE_BATH_ACCURACY: "ice water, at its own point within",
    LimitKey.CYLINDER_REST: "cylinder rests before its pressure is compared",
    LimitKey.CONDENSING_LOW: "unit in order, condensing over outdoor air by at least",
    LimitKey.CONDENSING_HIGH: "unit in order, condensing over outdoor air by at most",
    LimitKey.CONDENSING_HIGH_HELD: "unit at a held frequency, condensing over outdoor air at most",
    LimitKey.BOILING_LEAST: "unit in order, boiling point under return air by at least",
    LimitKey.BOILING_MOST: "unit in order, boiling point under return air by at most",
    LimitKey.SPLIT_LOW: "unit in order, temperature split at least",
    LimitKey.SPLIT_HIGH: "unit in order, temperature split at most",
    LimitKey.SPLIT_ROOM: "split by the air's state, room either way",
    LimitKey.BOILING_ROOM: "boiling point by the air's state, room either way",
    LimitKey.COIL_SHARE: "unit in order, heat per air of its indoor coil within",
    LimitKey.HUMIDITY_LOW: "return air nobody measures, humidity at least",
    LimitKey.HUMIDITY_HIGH: "return air nobody measures, humidity at most",
    LimitKey.APPROACH_LOW: "unit in order, liquid line over outdoor air by at least",
    LimitKey.AMOUNT_WITHIN: "charge in order, of plate and line set within",
    LimitKey.AMOUNT_OVER: "too much weighed in, over plate and line set by",
    LimitKey.EFFICIENCY_LOW: "compressor in order, isentropic efficiency at least",
    LimitKey.EFFICIENCY_HIGH: "compressor in order, isentropic efficiency at most",
    LimitKey.RATED_LOAD_LOW: "compressor in order draws of its rated-load amps at least",
    LimitKey.DISCHARGE_CLAMP: "discharge clamp without declared accuracy, good to",
    LimitKey.PIPE_CONTACT: "pipe under its clamp, like the refrigerant within",
    LimitKey.BAROMETER_ACCURACY: "atmosphere without declared barometer, known to",
    LimitKey.TIGHTNESS_GAUGE: "pressure test, probe without declared accuracy, good to",
    LimitKey.TIGHTNESS_GAUGE_BY_HAND: "pressure test, gauge without declared accuracy, good to",
    LimitKey.TIGHTNESS_THERMOMETER: "pressure test, thermometer without declared accuracy, good to",
}
"""Words for the keys that do not explain themselves."""

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
            LimitKey.ICE_BATH_ACCURACY,
            LimitKey.IMPOSSIBLE_READING,
            LimitKey.SUBCOOLING_HIGH,
            LimitKey.SHORTAGE_SUBCOOLING,
            LimitKey.OVERFED_SUBCOOLING,
            LimitKey.EYE_TEMPERATURE,
            LimitKey.TYPED_AIR_ACCURACY,
            LimitKey.SETTLED_BAND,
            LimitKey.COLUMN_OUTDOOR,
            LimitKey.COLUMN_DISCHARGE,
            LimitKey.STANDING_ALLOWED,
            LimitKey.STANDING_MOVED,
            LimitKey.STANDING_PLACE,
            LimitKey.STANDING_COOLED,
            LimitKey.CONDENSING_LOW,
            LimitKey.CONDENSING_HIGH,
            LimitKey.CONDENSING_HIGH_HELD,
            LimitKey.BOILING_LEAST,
            LimitKey.BOILING_MOST,
            LimitKey.SPLIT_LOW,
            LimitKey.SPLIT_HIGH,
            LimitKey.SPLIT_ROOM,
            LimitKey.BOILING_ROOM,
            LimitKey.APPROACH_LOW,
            LimitKey.DISCHARGE_CLAMP,
            LimitKey.PIPE_CONTACT,
            LimitKey.TIGHTNESS_THERMOMETER,
        ),
        Kind.TEMP_DIFFERENCE,
    ),
    **dict.fromkeys(
        (
            LimitKey.OUTDOOR_LOW,
            LimitKey.OUTDOOR_HIGH,
            LimitKey.INDOOR_LOW,
            LimitKey.INDOOR_HIGH,
            LimitKey.APPROACH_OUTDOOR_LOW,
            LimitKey.SUPERHEAT_OUTDOOR_LOW,
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
            LimitKey.HAND_LASTS,
            LimitKey.HAND_TOGETHER,
            LimitKey.HAND_PACE,
            LimitKey.HAND_PACE_SETTLED,
            LimitKey.HAND_SPAN,
            LimitKey.TYPED_AIR_LASTS,
            LimitKey.HEATER_LASTS,
            LimitKey.STANDING_REST,
            LimitKey.CALIBRATION_AGE,
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
            LimitKey.EYE_VACUUM,
            LimitKey.OVERSHOOT_CHANCE,
            LimitKey.VACUUM_STALL,
            LimitKey.ADDER_LOW,
            LimitKey.ADDER_HIGH,
            LimitKey.ADDER_PARTLY,
            LimitKey.COIL_SHARE,
            LimitKey.COLUMN_WEATHER,
            LimitKey.HUMIDITY_LOW,
            LimitKey.HUMIDITY_HIGH,
            LimitKey.AMOUNT_WITHIN,
            LimitKey.AMOUNT_OVER,
            LimitKey.EFFICIENCY_LOW,
            LimitKey.EFFICIENCY_HIGH,
            LimitKey.RATED_LOAD_LOW,
            LimitKey.TIGHTNESS_GAUGE,
            LimitKey.TIGHTNESS_GAUGE_BY_HAND,
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
    LimitKey.EYE_PRESSURE: Kind.PRESSURE_DIFFERENCE,
    LimitKey.EYE_VACUUM_STEP: Kind.PRESSURE_DIFFERENCE,
    LimitKey.COLUMN_LIQUID_PRESSURE: Kind.PRESSURE_DIFFERENCE,
    LimitKey.COLUMN_SUCTION_PRESSURE: Kind.PRESSURE_DIFFERENCE,
    LimitKey.STANDING_EQUAL: Kind.PRESSURE_DIFFERENCE,
    LimitKey.BAROMETER_ACCURACY: Kind.PRESSURE_DIFFERENCE,
    LimitKey.HAND_READINGS: Kind.COUNT,
    LimitKey.TIGHTNESS_READINGS: Kind.COUNT,
    LimitKey.VACUUM_READINGS: Kind.COUNT,
    LimitKey.LINE_LENGTH_ACCURACY: Kind.LENGTH,
    LimitKey.IDLE_CURRENT: Kind.CURRENT,
    LimitKey.SCALE_ACCURACY: Kind.MASS,
    LimitKey.FILTERS_PANELS: Kind.SIGHT,
}
