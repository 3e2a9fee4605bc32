"""Which way each fault moves each reading of a unit with an expansion valve, with sources.

The sources are trade texts, not laboratory tables, and do not always agree. Where they disagree,
the entry says so, and the direction used is one that all of them allow, or none. The table
describes single faults; a laboratory study warns that faults can hide each other (Hu and Yuill,
Energy and Buildings 2021, 111355).
"""

from typing import Final

from chargeassist.guide.fault_terms import Cause, Feature, Pattern, in_contact, only, sign_of
from chargeassist.model.channels import Role

_F = Feature

_VALVE_MASKS = "an expansion valve keeps superheat until liquid no longer reaches it"

_UNDERCHARGE_SEALED = {
    _F.SUBCOOLING: sign_of("- m:-"),
    _F.SUPERHEAT: sign_of("0 m:0"),
    _F.CONDENSING: sign_of("-0 m:-", "a small shortage moves it less than weather does"),
    _F.EVAPORATING: sign_of("0 m:0"),
    _F.DISCHARGE: sign_of("0 m:0"),
    _F.CURRENT: sign_of("-0 m:-", "a small shortage moves it little"),
    _F.AIR_SPLIT: sign_of("0 m:0"),
    _F.APPROACH: sign_of("0+ A:+", "what subcooling lacks, and subcooling says so already"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("0+ d:0+", "what leaked out is not in the circuit"),
    _F.SEAL: sign_of("0+ d:0+"),
    _F.STEP: sign_of("-0 p:-0", "what leaks out does not show"),
}
_UNDERCHARGE = {
    _F.SUBCOOLING: sign_of("- F:- U:- m:-"),
    _F.SUPERHEAT: sign_of("0+ F:+ U:+ m:0+", _VALVE_MASKS),
    _F.CONDENSING: sign_of("-0 F:- U:- m:-", "a small shortage moves it less than weather does"),
    _F.EVAPORATING: sign_of("-0 F:- U:- m:-0", _VALVE_MASKS),
    _F.DISCHARGE: sign_of("0+ U:+ m:0+", _VALVE_MASKS),
    _F.CURRENT: sign_of("-0 F:- U:- m:-", "a small shortage moves it little"),
    _F.AIR_SPLIT: sign_of("-0 F:- U:- m:-0", "a small shortage moves it little"),
    _F.APPROACH: sign_of("0+ A:+", "what subcooling lacks, and subcooling says so already"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("0+ d:0+", "what leaked out is not in the circuit"),
    _F.SEAL: sign_of("- m:-"),
    _F.STEP: sign_of("-0 p:-0", "what leaks out does not show"),
}
_OVERCHARGE = {
    _F.SUBCOOLING: sign_of("+ F:+ m:+"),
    _F.SUPERHEAT: sign_of("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: sign_of("+ F:+ m:+"),
    _F.EVAPORATING: sign_of("0+ F:+ m:0", "with an expansion valve the suction side hardly moves"),
    _F.DISCHARGE: sign_of("0+ m:+"),
    _F.CURRENT: sign_of("+ F:+ m:+"),
    _F.AIR_SPLIT: sign_of("0 F:0 m:0"),
    _F.APPROACH: sign_of("- A:-"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("-0 p:-0", "nothing was weighed in wrong, or somebody filled it before"),
    _F.STEP: sign_of("0 d:0"),
}
_RESTRICTION = {
    _F.SUBCOOLING: sign_of("0+ F:0+ R:+ m:+"),
    _F.SUPERHEAT: sign_of("+ F:+ m:+"),
    _F.CONDENSING: sign_of("-0 F:-0 R:-0 m:-"),
    _F.EVAPORATING: sign_of("- F:- R:- m:-"),
    _F.DISCHARGE: sign_of("+ m:+"),
    _F.CURRENT: sign_of("- F:- m:-"),
    _F.AIR_SPLIT: sign_of("- F:- m:-"),
    _F.APPROACH: sign_of("-0 p:-0"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("-0 m:-0", "liquid stands back in the coil"),
    _F.STEP: sign_of("0 d:0"),
}
_RESTRICTION_OVERFILLED = {
    _F.SUBCOOLING: sign_of("+ F:+"),
    _F.SUPERHEAT: sign_of("0+ F:0+", "the list has it normal when mild, high when severe"),
    _F.CONDENSING: sign_of("+ F:+"),
    _F.EVAPORATING: sign_of("-0 F:-0", "normal when mild, low when severe"),
    _F.CURRENT: sign_of("? F:?", "the list has it low when mild, high when severe"),
    _F.AIR_SPLIT: sign_of("-0 F:-0", "normal when mild, low when severe"),
    _F.APPROACH: sign_of("-0 p:-0"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("-0 m:-0", "liquid stands back in the coil"),
    _F.STEP: sign_of("0 d:0"),
}
_NON_CONDENSABLES = {
    _F.SUBCOOLING: sign_of("+ N:+ m:+", "apparent: the gas adds its own pressure"),
    _F.SUPERHEAT: sign_of("0 N:0 I:0 m:0"),
    _F.CONDENSING: sign_of("+ N:+ I:+ m:+", "apparent: the gas adds its own pressure"),
    _F.EVAPORATING: sign_of("0 N:0+ I:0 m:0"),
    _F.DISCHARGE: sign_of("+ N:+ m:+"),
    _F.CURRENT: sign_of("+ N:+ m:+"),
    _F.AIR_SPLIT: sign_of("0 m:0"),
    _F.APPROACH: sign_of("0 p:0"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("- d:-", "the gas makes subcooling read high"),
    _F.STEP: sign_of("0 d:0"),
}
_NON_CONDENSABLES_SHORT = _NON_CONDENSABLES | {
    _F.SUBCOOLING: sign_of(
        "-0 I:-", "what is missing and what the gas adds take each other's place in the reading"
    ),
}
_OUTDOOR_AIR_MILD = {
    _F.SUBCOOLING: sign_of("? F:- C:0+ m:0+", "the sources contradict each other"),
    _F.SUPERHEAT: sign_of("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: sign_of("+ F:+ C:+ m:+"),
    _F.EVAPORATING: sign_of("0+ F:+ m:0+", _VALVE_MASKS),
    _F.DISCHARGE: sign_of("+ m:+"),
    _F.CURRENT: sign_of("0+ F:0+ m:+"),
    _F.AIR_SPLIT: sign_of("0 F:0 m:-0"),
    _F.APPROACH: sign_of("+ p:+"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("0 m:0", "a share of the coil is worth less than amounts are known to"),
    _F.STEP: sign_of("0 d:0"),
}
_OUTDOOR_AIR_SEVERE = {
    _F.SUBCOOLING: sign_of("? F:- C:0+", "the sources contradict each other"),
    _F.SUPERHEAT: sign_of("? F:+ m:-0", "a fixed orifice and an expansion valve differ"),
    _F.CONDENSING: sign_of("+ F:+ C:+ m:+"),
    _F.EVAPORATING: sign_of("+ F:+ m:0+"),
    _F.DISCHARGE: sign_of("+ m:+"),
    _F.CURRENT: sign_of("+ F:+ m:+"),
    _F.AIR_SPLIT: sign_of("-0 F:- m:-0"),
    _F.APPROACH: sign_of("+ p:+"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("0 m:0", "a share of the coil is worth less than amounts are known to"),
    _F.STEP: sign_of("0 d:0"),
}
_INDOOR_AIR = {
    _F.SUBCOOLING: sign_of("0+ F:0+ m:0+"),
    _F.SUPERHEAT: sign_of("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: sign_of("-0 F:-0 m:-0"),
    _F.EVAPORATING: sign_of("- F:- m:-"),
    _F.DISCHARGE: sign_of("0 m:0"),
    _F.CURRENT: sign_of("0 F:0 m:0"),
    _F.AIR_SPLIT: sign_of("+ F:+ m:+"),
    _F.APPROACH: sign_of("0 p:0"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.CHARGE: sign_of("0 m:0"),
    _F.STEP: sign_of("0 d:0"),
}
_VALVE_LEAKAGE = {
    _F.SUBCOOLING: sign_of("? F:+ m:-", "source and model contradict each other"),
    _F.SUPERHEAT: sign_of("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: sign_of("- F:- m:-"),
    _F.EVAPORATING: sign_of("+ F:+ m:+"),
    _F.DISCHARGE: sign_of("0+ m:0+"),
    _F.CURRENT: sign_of("- F:- m:-"),
    _F.AIR_SPLIT: sign_of("- F:- m:-"),
    _F.APPROACH: sign_of("-0 p:-0"),
    _F.COMPRESSION: sign_of("+ m:+ p:+", "gas is compressed twice; the pressures call for less"),
    _F.CHARGE: sign_of("? p:?"),
    _F.STEP: sign_of("0 d:0"),
}
_VALVE_OPEN = {
    _F.SUBCOOLING: sign_of("- p:- m:-"),
    _F.SUPERHEAT: sign_of("- p:- m:-"),
    _F.CONDENSING: sign_of("-0 m:-", "a model alone says so"),
    _F.EVAPORATING: sign_of("+ p:+ m:+"),
    _F.DISCHARGE: sign_of("- m:-"),
    _F.CURRENT: sign_of("-0 m:-", "a model alone says so"),
    _F.AIR_SPLIT: sign_of("-0 m:-0"),
    _F.APPROACH: sign_of("0+ p:0+"),
    _F.COMPRESSION: sign_of("-0 m:-0", "liquid in the suction gas cools the compressor"),
    _F.CHARGE: sign_of("0+ m:+"),
    _F.STEP: sign_of("0 d:0"),
}


_LIQUID_CLAMP = only(subcooling="+", approach="-", charge="-", step="0+", contact="-0")
# The row of a short charge, except where the clamp enters; in the subcooling the two compete.
_LIQUID_CLAMP_SHORT = only(
    subcooling="?", superheat="0+", condensing="-0", evaporating="-0", discharge="0+",
    current="-0", air_split="-0", approach="-0", charge="-", step="?", contact="-0",
)  # fmt: skip
_LIQUID_PRESSURE_HIGH = only(subcooling="+", condensing="+", charge="-")
_LIQUID_PRESSURE_LOW = only(subcooling="-", condensing="-", charge="+")

_TABLE: Final[dict[Cause, tuple[Pattern, ...]]] = {
    Cause.UNDERCHARGE: (
        Pattern("", _UNDERCHARGE, 0.5),
        Pattern("liquid still reaches the valve", _UNDERCHARGE_SEALED, 0.5),
    ),
    Cause.OVERCHARGE: (Pattern("", _OVERCHARGE),),
    Cause.RESTRICTION: (
        Pattern("charge as on the plate", _RESTRICTION, 0.7),
        Pattern("more than the plate charge", _RESTRICTION_OVERFILLED, 0.3),
    ),
    Cause.NON_CONDENSABLES: (
        Pattern("refrigerant as on the plate", _NON_CONDENSABLES, 0.75),
        Pattern("refrigerant missing as well", _NON_CONDENSABLES_SHORT, 0.25),
    ),
    Cause.LOW_OUTDOOR_AIRFLOW: (
        Pattern("mild", _OUTDOOR_AIR_MILD, 0.7),
        Pattern("severe", _OUTDOOR_AIR_SEVERE, 0.3),
    ),
    Cause.LOW_INDOOR_AIRFLOW: (Pattern("", _INDOOR_AIR),),
    Cause.VALVE_LEAKAGE: (Pattern("", _VALVE_LEAKAGE),),
    Cause.VALVE_OPEN: (Pattern("", _VALVE_OPEN),),
    Cause.PROBE_LOOSE: (
        Pattern("liquid line clamp", _LIQUID_CLAMP, 0.35, Role.LIQUID_TEMPERATURE),
        Pattern(
            "liquid line clamp, and refrigerant missing",
            _LIQUID_CLAMP_SHORT,
            0.25,
            Role.LIQUID_TEMPERATURE,
        ),
        Pattern(
            "suction line clamp",
            only(superheat="+", compression="-0"),
            0.4,
            Role.SUCTION_TEMPERATURE,
        ),
    ),
    Cause.ZERO_SHIFTED: (
        Pattern("liquid pressure reads high", _LIQUID_PRESSURE_HIGH, 0.25, Role.LIQUID_PRESSURE),
        Pattern("liquid pressure reads low", _LIQUID_PRESSURE_LOW, 0.25, Role.LIQUID_PRESSURE),
        Pattern(
            "suction pressure reads high",
            only(superheat="-", evaporating="+"),
            0.25,
            Role.SUCTION_PRESSURE,
        ),
        Pattern(
            "suction pressure reads low",
            only(superheat="+", evaporating="-"),
            0.25,
            Role.SUCTION_PRESSURE,
        ),
    ),
    Cause.IN_ORDER: (Pattern("", only(charge="0")),),
    Cause.OTHER: (Pattern("", {}),),
}

PATTERNS: Final = in_contact(_TABLE)
"""The table: each cause with its patterns."""
