"""Which way each fault moves each reading of a unit with a fixed orifice, with sources.

The directions differ from those with an expansion valve (`fault_signs`). Pressure and subcooling
drive the flow through an orifice, so superheat always shows charge and load, and everything that
raises head pressure lowers superheat. The laboratory rules are those of a rooftop unit; that it had
a fixed orifice is from memory.
"""

from typing import Final

from chargeassist.guide.fault_terms import Cause, Feature, Pattern, in_contact, only, sign_of
from chargeassist.model.channels import Role

_F = Feature
_LITTLE = "a small fault moves it less than weather and its range leave open"

_UNDERCHARGE = {
    _F.SUPERHEAT: sign_of("+ F:+ U:+ L:+"),
    _F.SUBCOOLING: sign_of("-0 F:- U:- L:-", _LITTLE),
    _F.CONDENSING: sign_of("-0 F:- U:- L:-", _LITTLE),
    _F.EVAPORATING: sign_of("-0 F:- U:- L:-", _LITTLE),
    _F.DISCHARGE: sign_of("+ U:+ L:+"),
    _F.CURRENT: sign_of("-0 F:- U:-", _LITTLE),
    _F.AIR_SPLIT: sign_of("-0 F:- U:- L:-", _LITTLE),
    _F.APPROACH: sign_of("0+ A:+", _LITTLE),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.SEAL: sign_of("- p:-", "most of the flow is lost with the liquid before the orifice"),
}
_UNDERCHARGE_SEALED = _UNDERCHARGE | {
    _F.SEAL: sign_of("0 p:0"),
    _F.FEED: sign_of("0 p:0", "an orifice passes its flow while liquid reaches it"),
}
_OVERCHARGE = {
    _F.SUPERHEAT: sign_of("- F:-"),
    _F.SUBCOOLING: sign_of("0+ F:+", _LITTLE),
    _F.CONDENSING: sign_of("0+ F:+", _LITTLE),
    _F.EVAPORATING: sign_of("0+ F:+", _LITTLE),
    _F.CURRENT: sign_of("0+ F:+", _LITTLE),
    _F.AIR_SPLIT: sign_of("0 F:0"),
    _F.APPROACH: sign_of("-0 A:-", _LITTLE),
    _F.COMPRESSION: sign_of("-0 p:-0", "liquid in the suction gas cools the compressor"),
    _F.SEAL: sign_of("+ p:+", "what is too much stands in the condenser as liquid"),
}
_RESTRICTION = {
    _F.SUPERHEAT: sign_of("+ F:+ L:+"),
    _F.SUBCOOLING: sign_of("0+ F:0+ R:+ L:+"),
    _F.CONDENSING: sign_of("-0 F:-0 R:-0 L:-"),
    _F.EVAPORATING: sign_of("- F:- R:- L:-"),
    _F.DISCHARGE: sign_of("+ L:+"),
    _F.CURRENT: sign_of("- F:-"),
    _F.AIR_SPLIT: sign_of("- F:- L:-"),
    _F.APPROACH: sign_of("-0 p:-0"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.SEAL: sign_of("0+ p:0+", "liquid stands back before it"),
    _F.FEED: sign_of("+ p:+", "it takes the flow although liquid is there"),
}
_NON_CONDENSABLES = {
    _F.SUPERHEAT: sign_of("-0 N:0 I:-", "more head drives more through the orifice"),
    _F.SUBCOOLING: sign_of("? N:+ I:-", "the sources contradict each other"),
    _F.CONDENSING: sign_of("+ N:+ I:+", "apparent: the gas adds its own pressure"),
    _F.EVAPORATING: sign_of("0+ N:0+ I:+", "slightly, says one; normal to slightly high the other"),
    _F.DISCHARGE: sign_of("+ N:+"),
    _F.CURRENT: sign_of("+ N:+"),
    _F.AIR_SPLIT: sign_of("0 p:0"),
    _F.APPROACH: sign_of("0 p:0"),
    _F.COMPRESSION: sign_of("0 m:0"),
    _F.SEAL: sign_of("0+ d:0+", "the gas's own share of the pressure is in the reading"),
}
_OUTDOOR_AIR = {
    _F.SUPERHEAT: sign_of("- F:- L:-"),
    _F.SUBCOOLING: sign_of("? F:- C:0+ L:-", "the sources contradict each other"),
    _F.CONDENSING: sign_of("+ F:+ C:+ L:+"),
    _F.EVAPORATING: sign_of("0+ F:+ L:+", _LITTLE),
    _F.DISCHARGE: sign_of("+ L:+"),
    _F.CURRENT: sign_of("0+ F:0+"),
    _F.AIR_SPLIT: sign_of("-0 F:0 L:-", "normal says one, low the other"),
    _F.APPROACH: sign_of("+ p:+"),
    _F.COMPRESSION: sign_of("0 m:0"),
}
_INDOOR_AIR = {
    _F.SUPERHEAT: sign_of("- F:- L:-"),
    _F.SUBCOOLING: sign_of("? F:0+ L:-", "the sources contradict each other"),
    _F.CONDENSING: sign_of("-0 F:-0 L:-"),
    _F.EVAPORATING: sign_of("- F:- L:-"),
    _F.DISCHARGE: sign_of("-0 L:-", _LITTLE),
    _F.CURRENT: sign_of("0 F:0"),
    _F.AIR_SPLIT: sign_of("+ F:+ L:+"),
    _F.APPROACH: sign_of("0 p:0"),
    _F.COMPRESSION: sign_of("-0 p:-0", "liquid in the suction gas cools the compressor"),
}
_VALVE_LEAKAGE = {
    _F.SUPERHEAT: sign_of("- F:- L:-"),
    _F.SUBCOOLING: sign_of("? F:+ L:-", "the sources contradict each other"),
    _F.CONDENSING: sign_of("- F:- L:-"),
    _F.EVAPORATING: sign_of("+ F:+ L:+"),
    _F.DISCHARGE: sign_of("? L:- m:0+", "a laboratory and a model contradict each other"),
    _F.CURRENT: sign_of("- F:-"),
    _F.AIR_SPLIT: sign_of("- F:- L:-"),
    _F.APPROACH: sign_of("-0 p:-0"),
    _F.COMPRESSION: sign_of("+ m:+ p:+", "gas is compressed twice; the pressures call for less"),
}
_OVERFED = {
    _F.SUPERHEAT: sign_of("- p:-"),
    _F.SUBCOOLING: sign_of("- p:-"),
    _F.CONDENSING: sign_of("-0 p:-0"),
    _F.EVAPORATING: sign_of("+ p:+"),
    _F.DISCHARGE: sign_of("- p:-"),
    _F.CURRENT: sign_of("-0 p:-0"),
    _F.AIR_SPLIT: sign_of("-0 p:-0"),
    _F.APPROACH: sign_of("0+ p:0+"),
    _F.COMPRESSION: sign_of("-0 p:-0", "liquid in the suction gas cools the compressor"),
}
_CHARGED = "charged until the superheat is right"
_NON_CONDENSABLES_CHARGED = _NON_CONDENSABLES | {
    _F.SUPERHEAT: sign_of("0 c:0", _CHARGED),
}
_OUTDOOR_AIR_CHARGED = {
    _F.SUPERHEAT: sign_of("0 c:0", _CHARGED),
    _F.SUBCOOLING: sign_of("-0 c:-0", _CHARGED),
    _F.CONDENSING: sign_of("+ c:+", "a coil that is worth less outdoes what is missing"),
    _F.EVAPORATING: sign_of("? c:?"),
    _F.DISCHARGE: sign_of("+ c:+"),
    _F.CURRENT: sign_of("? c:?"),
    _F.AIR_SPLIT: sign_of("-0 c:-0"),
    _F.APPROACH: sign_of("+ c:+"),
    _F.COMPRESSION: sign_of("0 c:0"),
}
_INDOOR_AIR_CHARGED = {
    _F.SUPERHEAT: sign_of("0 c:0", _CHARGED),
    _F.SUBCOOLING: sign_of("-0 c:-0", _CHARGED),
    _F.CONDENSING: sign_of("-0 c:-0"),
    _F.EVAPORATING: sign_of("- c:-"),
    _F.DISCHARGE: sign_of("? c:?"),
    _F.CURRENT: sign_of("-0 c:-0"),
    _F.AIR_SPLIT: sign_of("+ c:+", "air that is short outdoes what is missing"),
    _F.APPROACH: sign_of("0+ c:0+"),
    _F.COMPRESSION: sign_of("0 c:0"),
}
_VALVE_LEAKAGE_CHARGED = _VALVE_LEAKAGE | {
    _F.SUPERHEAT: sign_of("0 c:0", _CHARGED),
    _F.SUBCOOLING: sign_of("-0 c:-0", _CHARGED),
    _F.EVAPORATING: sign_of("0+ c:0+"),
}
_OVERFED_CHARGED = _OVERFED | {
    _F.SUPERHEAT: sign_of("0 c:0", _CHARGED),
    _F.EVAPORATING: sign_of("? c:?"),
    _F.DISCHARGE: sign_of("? c:?"),
    _F.COMPRESSION: sign_of("0 c:0"),
}

_TABLE: Final[dict[Cause, tuple[Pattern, ...]]] = {
    Cause.UNDERCHARGE: (
        Pattern("", _UNDERCHARGE, 0.5),
        Pattern("liquid still reaches the orifice", _UNDERCHARGE_SEALED, 0.5),
    ),
    Cause.OVERCHARGE: (Pattern("", _OVERCHARGE),),
    Cause.RESTRICTION: (Pattern("", _RESTRICTION),),
    Cause.NON_CONDENSABLES: (
        Pattern("", _NON_CONDENSABLES, 0.5),
        Pattern(_CHARGED, _NON_CONDENSABLES_CHARGED, 0.5),
    ),
    Cause.LOW_OUTDOOR_AIRFLOW: (
        Pattern("", _OUTDOOR_AIR, 0.5),
        Pattern(_CHARGED, _OUTDOOR_AIR_CHARGED, 0.5),
    ),
    Cause.LOW_INDOOR_AIRFLOW: (
        Pattern("", _INDOOR_AIR, 0.5),
        Pattern(_CHARGED, _INDOOR_AIR_CHARGED, 0.5),
    ),
    Cause.VALVE_LEAKAGE: (
        Pattern("", _VALVE_LEAKAGE, 0.5),
        Pattern(_CHARGED, _VALVE_LEAKAGE_CHARGED, 0.5),
    ),
    Cause.VALVE_OPEN: (
        Pattern("orifice too large, or its piston off its seat", _OVERFED, 0.5),
        Pattern("the same, " + _CHARGED, _OVERFED_CHARGED, 0.5),
    ),
    Cause.PROBE_LOOSE: (
        Pattern(
            "liquid line clamp",
            only(subcooling="+", approach="-", feed="?", contact="-0"),
            0.3,
            Role.LIQUID_TEMPERATURE,
        ),
        Pattern(
            "liquid line clamp, by its slowness alone",
            only(subcooling="0+", approach="-0", feed="?", contact="-"),
            0.2,
            Role.LIQUID_TEMPERATURE,
        ),
        Pattern(
            "suction line clamp",
            only(superheat="+", compression="-0", feed="+"),
            0.5,
            Role.SUCTION_TEMPERATURE,
        ),
    ),
    Cause.ZERO_SHIFTED: (
        Pattern(
            "liquid pressure reads high",
            only(subcooling="+", condensing="+"),
            0.25,
            Role.LIQUID_PRESSURE,
        ),
        Pattern(
            "liquid pressure reads low",
            only(subcooling="-", condensing="-"),
            0.25,
            Role.LIQUID_PRESSURE,
        ),
        Pattern(
            "suction pressure reads high",
            only(superheat="-", evaporating="+"),
            0.25,
            Role.SUCTION_PRESSURE,
        ),
        Pattern(
            "suction pressure reads low",
            only(superheat="+", evaporating="-", feed="+"),
            0.25,
            Role.SUCTION_PRESSURE,
        ),
    ),
    Cause.IN_ORDER: (Pattern("", only()),),
    Cause.OTHER: (Pattern("", {}),),
}

ORIFICE_PATTERNS: Final = in_contact(_TABLE)
"""The table: each cause with its patterns behind a fixed orifice."""
