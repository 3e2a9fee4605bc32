"""Words of the checks of the running unit."""

from collections.abc import Mapping

from chargeassist.guide.condition_wording import LOOK_AT_AIR
from chargeassist.guide.stages.electrical_checks import OVER_RATED
from chargeassist.guide.stages.judging import NO_VALUE
from chargeassist.guide.stages.words import Figures, Phrase, StageWords
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import Quantity
from chargeassist.model.usual_limits import USUAL

_UNDECLARED = "uncertainty not declared"


def _shown(value: float, quantity: Quantity, system: UnitSystem) -> str:
    return display.reading(value, quantity, None, system)


def _with(f: Figures, name: str, expanded: str, quantity: Quantity, system: UnitSystem) -> str:
    """Return "11.60 A ± 0.20 A", or that no uncertainty was declared."""
    text = _shown(f[name], quantity, system)
    if expanded in f:
        return f"{text} ± {_shown(f[expanded], quantity, system)}"
    return f"{text} ({_UNDECLARED})"


def _amps(f: Figures, says: str, system: UnitSystem) -> str:
    text = _with(f, "amps_a", "expanded_a", Quantity.CURRENT, system)
    if "frequency_hz" in f:
        text += f" at {_shown(f['frequency_hz'], Quantity.FREQUENCY, system)}"
    if "tolerance_a" in f:
        text += (
            f", the maker gives {_shown(f['expected_a'], Quantity.CURRENT, system)} ± "
            f"{_shown(f['tolerance_a'], Quantity.CURRENT, system)}"
        )
    text += says
    if 0.005 < f.get("conformance", 1.0) < 0.995:
        text += f"; {100.0 * f['conformance']:.0f} % likely within it"
    if OVER_RATED in f:
        rated = _shown(f["rated_load_a"], Quantity.CURRENT, system)
        text += f"; above the rated-load amps of {rated}, find out why"
    return text


def _no_figure(f: Figures) -> str:
    return (
        "; the job file gives no tolerance (electrical.tolerance)"
        if "expected_a" in f
        else "; the job file has no figure of the maker (electrical.amps)"
    )


def _volts(f: Figures, says: str, system: UnitSystem) -> str:
    text = _with(f, "volts_v", "expanded_v", Quantity.VOLTAGE, system)
    if "rated_v" in f:
        deviation = 100.0 * (f["volts_v"] - f["rated_v"]) / f["rated_v"]
        sign = "−" if deviation < 0.0 else "+"
        text += (
            f", {sign}{abs(deviation):.1f} % of the plate's "
            f"{_shown(f['rated_v'], Quantity.VOLTAGE, system)}"
        )
    if "tolerance" in f:
        text += f" (± {100.0 * f['tolerance']:g} %)"
    return text + says


_PAIRS = ("first", "second", "third")
"""Pairs of lines, in the order they are typed."""


def _unbalance(f: Figures, says: str, system: UnitSystem) -> str:
    text = f"{100.0 * f['unbalance']:.2f} %"
    text += f" ± {100.0 * f['expanded']:.2f} %" if "expanded" in f else f" ({_UNDECLARED})"
    if "aim" in f:
        text += f", aim {100.0 * f['aim']:g} %"
    if "limit" in f:
        text += f", limit {100.0 * f['limit']:g} %"
    if "worst_v" in f:
        pair = _PAIRS[round(f["worst_pair"]) - 1]
        text += (
            f", most by the {pair} pair: {_shown(f['worst_v'], Quantity.VOLTAGE, system)} of "
            f"{_shown(f['mean_v'], Quantity.VOLTAGE, system)} in the mean"
        )
    text += says
    if f.get("derating", 1.0) < 1.0:
        text += f"; load the motor to {100.0 * f['derating']:.0f} % of its output at most"
    return text


def _flow(f: Figures, system: UnitSystem) -> str:
    text = _with(f, "flow_m3_per_s", "expanded_m3_per_s", Quantity.AIRFLOW, system)
    if "flow_m3_per_s_per_w" in f:
        text += f", {display.airflow_per_capacity(f['flow_m3_per_s_per_w'], system)}"
    return text


def _by_heat(f: Figures, system: UnitSystem) -> str:
    before, after = (
        _shown(f[name], Quantity.TEMPERATURE, system) for name in ("before_k", "after_k")
    )
    told = "by probes" if f["by_probes"] else "typed"
    return (
        f"{_flow(f, system)}: {_shown(f['heat_w'], Quantity.POWER, system)} warm the air from "
        f"{before} to {after} ({told}) at {f['density_kg_per_m3']:.3f} kg/m3; the same blower "
        "speed as for cooling, its own heat counted where it stands between"
    )


def _against_least(f: Figures, says: str, system: UnitSystem) -> str:
    least = display.airflow_per_capacity(f["limit_m3_per_s_per_w"], system)
    return f"{_flow(f, system)}, least {least}{says}"


def _against_design(f: Figures, says: str, system: UnitSystem) -> str:
    text = f"{_flow(f, system)}, designed {_shown(f['design_m3_per_s'], Quantity.AIRFLOW, system)}"
    if "tolerance" in f:
        text += f" ± {100.0 * f['tolerance']:g} %"
    return text + says


def _split(f: Figures, says: str, system: UnitSystem) -> str:
    split = display.with_uncertainty(f["split_k"], f.get("expanded_k"), system)
    return (
        f"{split}: return air {_shown(f['return_k'], Quantity.TEMPERATURE, system)}, supply air "
        f"{_shown(f['supply_k'], Quantity.TEMPERATURE, system)}{says}"
    )


def _split_against(f: Figures, says: str, system: UnitSystem) -> str:
    wanted = display.difference_number(f["target_k"], system)
    tolerance = display.difference(f["tolerance_k"], system)
    return _split(
        f, f"; the maker's table gives {wanted} ± {tolerance} for its indoor air{says}", system
    )


def _capacity(f: Figures, system: UnitSystem) -> str:
    parts = []
    for name, words in (("total", "in all"), ("sensible", "sensible"), ("latent", "latent")):
        if f"{name}_w" in f:
            part = _shown(f[f"{name}_w"], Quantity.POWER, system)
            if f"{name}_expanded_w" in f:
                part += f" ± {_shown(f[f'{name}_expanded_w'], Quantity.POWER, system)}"
            parts.append(f"{part} {words}")
    known = "total_expanded_w" in f
    usual_k = USUAL[LimitKey.TYPED_AIR_ACCURACY].value_si  # of a record that does not say
    typed = display.difference(f.get("typed_k", usual_k), system)
    unsure = f"typed air temperatures taken as ± {typed}" if known else _UNDECLARED
    text = f"{', '.join(parts)} ({unsure})"
    if "share" in f:
        text += (
            f"; {100.0 * f['share']:.0f} % of the plate's "
            f"{_shown(f['plate_w'], Quantity.POWER, system)}, which holds at its own conditions"
        )
    return text


def _typed_lasts(f: Figures) -> str:
    # Records of before the figure was kept went by the usual time.
    return display.duration(f.get("lasts_s", USUAL[LimitKey.TYPED_LASTS].value_si))


CAUTIONS: Mapping[str, Phrase] = {
    "over_rated_load": lambda f, s, u: (
        f"compressor draws {_shown(f['amps_a'], Quantity.CURRENT, u)}, more than the rated-load "
        f"amps of {_shown(f['rated_load_a'], Quantity.CURRENT, u)}: not a target, but find out why"
    ),
}
"""Of `chargeassist.guide.snapshot.Caution`."""

WORDS = StageWords(
    headlines={},
    reasons={},
    rows={},
    checks={
        "running_amps": "running amps",
        "supply_voltage": "supply voltage",
        "voltage_unbalance": "voltage unbalance",
        "phase_order": "phase order",
        "filters_panels": "filter and panels",
        "conditions_unjudged": "weather, run and airflow",
        "airflow": "airflow",
        "airflow_by_heat": "airflow by heat balance",
        "airflow_design": "airflow against design",
        "temperature_split": "temperature split",
        "capacity": "capacity",
    },
    findings={
        NO_VALUE: lambda f, s, u: s,
        "amps_as_expected": lambda f, s, u: _amps(f, "", u),
        "amps_low": lambda f, s, u: _amps(f, ": too little", u),
        "amps_high": lambda f, s, u: _amps(f, ": too much", u),
        "amps_not_certain": lambda f, s, u: _amps(f, ": cannot be told with this clamp", u),
        "amps_no_figure": lambda f, s, u: _amps(f, _no_figure(f), u),
        "amps_not_held": lambda f, s, u: (
            f"{_shown(f['amps_a'], Quantity.CURRENT, u)} typed while the frequency of the test was "
            "not held"
        ),
        "voltage_inside": lambda f, s, u: _volts(f, "", u),
        "voltage_low": lambda f, s, u: _volts(f, ": too low", u),
        "voltage_high": lambda f, s, u: _volts(f, ": too high", u),
        "voltage_no_plate": lambda f, s, u: _volts(
            f, "; the job file has no rated voltage (plate.voltage)", u
        ),
        "voltage_no_limit": lambda f, s, u: _volts(
            f, '; the job has no tolerance for it (a profile such as "supply-and-cylinder")', u
        ),
        "unbalance_inside": lambda f, s, u: _unbalance(f, "", u),
        "unbalance_over_aim": lambda f, s, u: _unbalance(f, ": above the aim", u),
        "unbalance_over": lambda f, s, u: _unbalance(f, ": too much, find the cause first", u),
        "unbalance_no_limit": lambda f, s, u: _unbalance(
            f, '; the job has no limit for it (a profile such as "supply-and-cylinder")', u
        ),
        "phase_order_seen": lambda f, s, u: (
            "the technician looked: no loud noise, the pressures part, amps are not low"
        ),
        "phase_order_open": lambda f, s, u: (
            "not confirmed; a compressor that turns backwards is loud, makes no pressure "
            "difference and draws little: stop it at once"
        ),
        "filters_panels_seen": lambda f, s, u: (
            "the technician looked: filter clean, registers open, every panel on"
        ),
        "filters_panels_open": lambda f, s, u: (
            "not confirmed; a reading with a panel off or a dirty filter does not count"
        ),
        "conditions_unjudged": lambda f, s, u: s,
        "airflow_by_heat": lambda f, s, u: _by_heat(f, u),
        "airflow_enough": lambda f, s, u: _against_least(f, "", u),
        "airflow_short": lambda f, s, u: _against_least(f, f": too little{LOOK_AT_AIR}", u),
        "airflow_no_capacity": lambda f, s, u: (
            _flow(f, u) + "; the job file has no nominal capacity (plate.capacity)"
        ),
        "airflow_no_limit": lambda f, s, u: _flow(f, u) + "; the job names no least airflow",
        "airflow_as_designed": lambda f, s, u: _against_design(f, "", u),
        "airflow_under_design": lambda f, s, u: _against_design(f, f": too little{LOOK_AT_AIR}", u),
        "airflow_over_design": lambda f, s, u: _against_design(f, ": too much", u),
        "airflow_no_tolerance": lambda f, s, u: _against_design(
            f, "; the job has no tolerance for it", u
        ),
        "split_recorded": lambda f, s, u: _split(f, "; the job has no table to judge it", u),
        "split_other_weather": lambda f, s, u: _split(
            f, "; the maker's column in the job has no split, or is for other weather", u
        ),
        "split_as_printed": lambda f, s, u: _split_against(f, "", u),
        "split_low": lambda f, s, u: _split_against(
            f,
            ": low, the unit may cool too little; look at the charge and the airflow",
            u,
        ),
        "split_high": lambda f, s, u: _split_against(f, f": high, too little air{LOOK_AT_AIR}", u),
        "capacity_recorded": lambda f, s, u: _capacity(f, u),
        "capacity_lacks": lambda f, s, u: (
            f"not known yet, or typed more than {_typed_lasts(f)} ago: {s}"
        ),
    },
)
