"""Words of the checks of the probes: in ice water, and at a resting cylinder."""

from collections.abc import Mapping

from chargeassist.guide.stages.words import Figures, Phrase, StageWords
from chargeassist.model import display
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity


def _off(f: Figures, says: str, system: UnitSystem) -> str:
    off = display.difference(abs(f["off_k"]), system, 2)
    way = "above" if f["off_k"] > 0.0 else "below"
    allowed = display.difference(f["tolerance_k"], system, 2)
    return f"reads {off} {way} the ice point, allowed ± {allowed}{says}"


def _at_cylinder(f: Figures, says: str, system: UnitSystem) -> str:
    offset = display.pressure(f["offset_pa"], None, system)
    give_or_take = display.pressure(f["expanded_pa"], None, system)
    allowed = display.pressure(f["limit_pa"], None, system)
    shift = display.difference(f["shift_k"], system)
    return (
        f"liquid pressure probe {offset} ± {give_or_take} off saturation (subcooling by {shift}), "
        f"allowed ± {allowed}{says}"
    )


def _not_rested(f: Figures) -> str:
    return (
        f"the cylinder has rested for {display.duration(f['rest_s'])}, "
        f"{display.duration(f['needed_s'])} are required: its wall may not be as warm as its liquid"
    )


_THERMOMETERS = {
    **{role.value: role.label for role in Role if role.quantity is Quantity.TEMPERATURE},
    "thermometer": "thermometer",
}

CAUTIONS: Mapping[str, Phrase] = {
    "ice_bath_off": lambda f, s, u: f"{s} in ice water: {_off(f, '', u)}",
}
"""Of `chargeassist.guide.snapshot.Caution`."""

WORDS = StageWords(
    headlines={},
    reasons={},
    rows={},
    checks={
        **{f"ice_bath_{key}": f"ice water, {label}" for key, label in _THERMOMETERS.items()},
        "cylinder_at_rest": "pressure probe at a cylinder",
    },
    findings={
        "ice_bath_agrees": lambda f, s, u: _off(f, "", u),
        "ice_bath_off": lambda f, s, u: _off(
            f, ": have it calibrated, or write its offset into the job file", u
        ),
        "ice_bath_replace": lambda f, s, u: _off(
            f, f": replace it from {display.difference(f['replace_k'], u, 2)} on", u
        ),
        "ice_bath_moves": lambda f, s, u: (
            f"still moving or without signal after {display.duration(f['limit_s'])}: stir the ice, "
            "check the probe, and tell it again"
        ),
        "cylinder_no_value": lambda f, s, u: s,
        "cylinder_not_rested": lambda f, s, u: _not_rested(f),
        "cylinder_agrees": lambda f, s, u: _at_cylinder(f, "", u),
        "cylinder_agrees_not_certain": lambda f, s, u: _at_cylinder(f, "", u),
        "cylinder_shifted_not_certain": lambda f, s, u: _at_cylinder(f, ": look at its zero", u),
        "cylinder_shifted": lambda f, s, u: _at_cylinder(f, ": its zero is off", u),
        "cylinder_too_coarse": lambda f, s, u: _at_cylinder(
            f, ": the temperature of its wall is too uncertain to judge it", u
        ),
    },
)
