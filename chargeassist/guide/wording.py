"""Sentences for every cause a verdict can have, in the reader's units.

Verdicts are recorded as a cause and SI figures, so that they compare bit for bit and can be read in
either system of units. Only here, and in the tables gathered here, do they become language.
"""

import math
from functools import partial
from typing import Final

from chargeassist.guide.condition_wording import CONDITION_ADVICE
from chargeassist.guide.fault_wording import FAULT_ADVICE, FAULT_CAUTION
from chargeassist.guide.guard_wording import GUARD_ADVICE, cited, over
from chargeassist.guide.guards import STEP_OPEN
from chargeassist.guide.hand_wording import HAND_ADVICE, hand_beside
from chargeassist.guide.settling_wording import SAID, SETTLING, held_for, round_to
from chargeassist.guide.snapshot import Caution
from chargeassist.guide.stages.caution_words import hazard_of
from chargeassist.guide.stages.choice import WORDS
from chargeassist.guide.stages.final_reading_words import beside
from chargeassist.guide.stages.instrument_words import CAUTIONS as INSTRUMENT_CAUTION
from chargeassist.guide.stages.stage import StageRow
from chargeassist.guide.stages.unit_checks_words import CAUTIONS as UNIT_CAUTION
from chargeassist.guide.stages.words import Figures, Phrase
from chargeassist.guide.trouble_wording import TROUBLE_CAUTION
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, CheckJudged
from chargeassist.stream.facts import Settling

CHECK_PROBE: Final = "check the probe, its cable or radio"
"""What to do about a probe without signal, where the rest of its source goes on."""


def sentence(advice: Advice, system: UnitSystem) -> str:
    """Return the instruction with its reason: "Wait: still rising ..., about 70 s to go".

    Parameters
    ----------
    advice : Advice
    system : UnitSystem

    Raises
    ------
    KeyError
        If the cause has no words; tests rule this out for every cause the guide gives.
    """
    return f"{headline(advice, system)}: {reason(advice, system)}"


def headline(advice: Advice, system: UnitSystem) -> str:
    """Return the instruction alone: "Wait", "Add 85 g", "Stop", "Recover 40 g", "Fix first".

    A step whose amount is in, that no longer flows, that the scale no longer follows, or that
    drives a value past a limit, says "Shut the valve": a hand at the valve must not read "Wait".
    """
    if advice.cause in _SHUT_THE_VALVE or STEP_OPEN in advice.figures:
        return "Shut the valve"
    if hazard_of(advice.cause) is not None:
        return "Caution"
    if advice.cause in {"read_by_hand", "read_meanwhile", "read_beside"}:
        return f"Read the {advice.subject}"
    if advice.action is Action.DO and advice.cause in WORDS.headlines:
        return WORDS.headlines[advice.cause](advice.figures, advice.subject, system)
    word = advice.action.value.capitalize()
    if advice.mass_kg is not None and advice.action in {Action.ADD, Action.RECOVER}:
        return f"{word} {display.mass(advice.mass_kg, system)}"
    return word


def reason(advice: Advice, system: UnitSystem) -> str:
    """Return the reason alone, as a clause."""
    cause = advice.cause
    if cause == "leaking" and "compensated_pa_abs" in advice.figures:
        cause = "nitrogen_leaks"  # as records of before it had a name of its own call it
    phrase = ADVICE.get(cause) or WORDS.reasons[cause]
    said = phrase(advice.figures, advice.subject, system)
    if STEP_OPEN in advice.figures and "so_far_kg" in advice.figures:
        said = f"{_step_so_far(advice.figures, system)}; {said}"
    return said + hand_beside(advice.figures) + beside(advice.figures)


def caution(item: Caution, system: UnitSystem) -> str:
    """Return one caution as a sentence."""
    return _CAUTION[item.cause](item.figures, item.subject, system)


def check(item: CheckJudged, system: UnitSystem) -> str:
    """Return what a judged check says: "standing pressure: pass: fell by less than ..."."""
    name = WORDS.checks.get(item.check, item.check.replace("_", " "))
    said = WORDS.findings[item.cause](item.figures, item.subject, system)
    return f"{name}: {item.result.value}: {said}"


def stage_row(row: StageRow, system: UnitSystem) -> tuple[str, str]:
    """Return the label and the text of one line of a stage's table."""
    label, phrase = WORDS.rows[row.key]
    return label, phrase(row.figures, row.subject, system)


def settling(item: Settling, system: UnitSystem) -> str:
    """Return why the judged value has not settled, and how long to go if that is known."""
    text = SETTLING[item.cause](item, system)
    to_go = item.forecast.seconds if item.forecast is not None else None
    if item.stands or to_go is None:
        return text
    return f"{text}, about {display.duration(round_to(to_go, 10.0))} to go"


def _reads(f: Figures, system: UnitSystem) -> str:
    return display.with_uncertainty(_judged_k(f), f.get("expanded_k"), system)


def _settled_at(f: Figures, system: UnitSystem) -> str:
    if "expanded_k" in f:
        return f"{_reads(f, system)} settled"
    return f"{display.difference(_judged_k(f), system)} settled, uncertainty not declared"


def _judged_k(f: Figures) -> float:
    """Return the judged value [K]: figures about superheat contain no subcooling."""
    return f["subcooling_k"] if "subcooling_k" in f else f["superheat_k"]


def _band(f: Figures, system: UnitSystem) -> str:
    low_k = max(f["target_k"] - f["tolerance_k"], f.get("floor_k", -math.inf))
    low = display.difference_number(low_k, system)
    high = display.difference(f["target_k"] + f["tolerance_k"], system)
    return f"{low} to {high}{_looked_up(f, system)}"


def _looked_up(f: Figures, system: UnitSystem) -> str:
    """Return what the target was looked up by; empty for a fixed target."""
    if "outdoor_k" not in f:
        return ""
    outdoor = display.temperature(f["outdoor_k"], system)
    wet_bulb = display.temperature(f["wet_bulb_k"], system)
    return f" (table: {outdoor} outdoors, return wet bulb {wet_bulb})"


def _settling_advice(name: str, f: Figures, subject: str, system: UnitSystem) -> str:
    words = (
        SAID.get(subject)
        or {
            "settled": "about to be called settled",
            "rising": f"{name} still rising",
            "falling": f"{name} still falling",
            # Any start swings once or twice; that a valve hunts is a finding, not a reason to wait.
            "hunting": f"{name} swings",
            "too_early": "too early to tell",
            "not_proven": "close to settled; the proof usually takes a minute or two",
            "unannounced": f"{name} changed without a charge step; watching it settle again",
            "no_signal": f"no {name} to judge yet",
            "two_phase": "about to be called two-phase",
            "witness_superheat": f"{name} stands, but superheat still moves",
            "witness_subcooling": f"{name} stands, but subcooling still moves",
            "witness_amps": f"{name} stands, but the amps still move",
        }[subject]
    )
    if "held_s" in f:
        words += held_for(f["held_s"])
    if "slope_k_per_s" in f and subject in {"rising", "falling"}:
        words += f" {display.difference_rate(f['slope_k_per_s'], system)}"
    if "period_s" in f and subject == "hunting":
        words += f", period about {display.duration(round_to(f['period_s'], 5.0))}"
    if "seconds_s" in f:
        words += f", about {display.duration(round_to(f['seconds_s'], 10.0))} to go"
    return words


def _step_so_far(f: Figures, system: UnitSystem) -> str:
    wanted = display.mass(f["wanted_kg"], system) if "wanted_kg" in f else ""
    if "so_far_kg" not in f:
        return f"charge step open, {wanted} to add" if wanted else "charge step open"
    so_far = display.mass(f["so_far_kg"], system)
    if "most_kg" in f:
        most = display.mass(f["most_kg"], system)
        return f"{so_far} in by the scale; none was advised, and {most} is the most at once"
    return f"{so_far} of {wanted} in by the scale" if wanted else f"{so_far} in by the scale"


def _inside(f: Figures, system: UnitSystem) -> str:
    off_k = abs(_judged_k(f) - f["target_k"])
    # A stopped charge stays stopped a little way out of the band; that is not called inside.
    above_floor = _judged_k(f) >= f.get("floor_k", -math.inf)
    within = off_k <= f["tolerance_k"] + 1e-9 and above_floor
    where = "inside" if within else "on the edge of"
    return f"{_reads(f, system)} is {where} {_band(f, system)}"


def _short(f: Figures, system: UnitSystem) -> str:
    if "two_phase" not in f:
        return _settled_at(f, system)
    return (
        f"no subcooling yet ({_reads(f, system)}): two-phase at the liquid line, so that the step "
        "goes by the plate charge"
    )


def _to_go(f: Figures) -> str:
    """Return how many steps and minutes are left; empty if that was not computed."""
    if "steps_left" not in f:
        return ""
    steps = round(f["steps_left"])
    # Without a liquid seal nobody can read how much is missing.
    about = "at least" if "unsealed_below_k" in f else "about"
    words = f"; {about} {steps} step{'' if steps == 1 else 's'}"
    if "minutes_s" in f:
        words += f", {max(1, round(f['minutes_s'] / 60.0))} min"
    return words + " to go"


def _floodback(f: Figures) -> str:
    """Return the danger of a superheat too low for the compressor; empty above."""
    if f["superheat_k"] >= f.get("floor_k", 0.0):
        return ""
    return "; liquid may reach the compressor"


_SHUT_THE_VALVE = frozenset(
    {"step_full", "scale_lost", "weigh_in_full", "weigh_in_ebbed", "weigh_in_scale_lost"}
)

ADVICE: dict[str, Phrase] = {
    **FAULT_ADVICE,
    **HAND_ADVICE,
    **GUARD_ADVICE,
    **CONDITION_ADVICE,
    "first_readings": lambda f, s, u: "waiting for the first readings of " + s,
    "step_open": lambda f, s, u: _step_so_far(f, u) + "; end the step when the valve is shut",
    "step_full": lambda f, s, u: _step_so_far(f, u) + "; then end the step",
    "scale_lost": lambda f, s, u: (
        f"the scale no longer reads; {_step_so_far(f, u)} when it last did; then end the step with "
        "the amount"
    ),
    "clamp_settles": lambda f, s, u: (
        f"a pipe clamp was just put on; it comes to its pipe within "
        f"{display.duration(f['seconds_s'])} more [{s}]"
    ),
    "minimum_wait": lambda f, s, u: (
        f"{display.duration(max(1.0, f['seconds_s']))} left of the minimum wait after a change"
    ),
    "settling": partial(_settling_advice, "subcooling"),
    "superheat_settling": partial(_settling_advice, "superheat"),
    "below_target": lambda f, s, u: _short(f, u) + f", target is {_band(f, u)}" + _to_go(f),
    "superheat_over_target": lambda f, s, u: (
        f"superheat of {_settled_at(f, u)}, target is {_band(f, u)}" + _to_go(f)
    ),
    "inside": lambda f, s, u: _inside(f, u),
    "inside_not_certain": lambda f, s, u: (
        f"{_inside(f, u)}, but not certainly ({f['conformance'] * 100:.0f} % likely)"
    ),
    "inside_too_coarse": lambda f, s, u: (
        f"{_inside(f, u)}, but these instruments are too coarse to judge it"
    ),
    "inside_undeclared": lambda f, s, u: (
        f"{_inside(f, u)}; no verdict without the probes' declared accuracy"
    ),
    "inside_conditions_open": lambda f, s, u: f"{_inside(f, u)}; no verdict while open: {s}",
    "inside_but_fault": lambda f, s, u: (
        f"{_inside(f, u)}, but something is wrong ({f['chance'] * 100:.0f} % likely), most likely: "
        f"{s}; put it right, then judge the charge again"
    ),
    "probe_trouble": lambda f, s, u: (
        f"{s} for {display.duration(f['since_s'])}; check that probe, then confirm it"
    ),
    "step_too_fine": lambda f, s, u: (
        f"{_reads(f, u)} is {'under' if _judged_k(f) < f['target_k'] else 'over'} {_band(f, u)}, "
        "and even the smallest step the scale shows could carry it past the band"
    ),
    "above_target": lambda f, s, u: f"{_settled_at(f, u)}, target is {_band(f, u)}",
    "superheat_under_target": lambda f, s, u: (
        f"superheat of {_settled_at(f, u)}, target is {_band(f, u)}" + _floodback(f)
    ),
    "no_signal": lambda f, s, u: (
        f"no signal from {s}"
        + (f" for {display.duration(f['age_s'])}" if "age_s" in f else "")
        + f"; {CHECK_PROBE}"
    ),
    "no_value": lambda f, s, u: f"no subcooling can be computed: {s}",
    "no_superheat": lambda f, s, u: f"no superheat can be computed: {s}",
    "no_target": lambda f, s, u: f"no target superheat: {s}",
    "impossible_subcooling": lambda f, s, u: (
        f"{display.difference(f['subcooling_k'], u)} of subcooling is impossible; check "
        f"refrigerant, the probes' places and units, the hose, and the pressure zero{cited(s)}"
    ),
    "impossible_superheat": lambda f, s, u: (
        f"{display.difference(f['superheat_k'], u)} of superheat is impossible; check "
        f"refrigerant, the probes' places and units, the hose, and the pressure zero{cited(s)}"
    ),
    "restricted": lambda f, s, u: (
        f"superheat of {display.difference(f['superheat_k'], u)} is over its target, yet "
        f"subcooling of {display.difference(f['subcooling_k'], u)} is over "
        f"{display.difference(f['limit_k'], u)}: look for a restriction before the coil, "
        "refrigerant is not the cure"
    ),
    "overfed": lambda f, s, u: (
        f"superheat of {display.difference(f['superheat_k'], u)} is under its target, yet there is "
        f"hardly any subcooling ({display.difference(f['subcooling_k'], u)}): check the orifice's "
        "size and seat and the indoor airflow before taking refrigerant out"
    ),
    "not_the_charge": lambda f, s, u: (
        f"superheat of {display.difference(f['superheat_k'], u)} is "
        f"{over(f['superheat_k'], f['limit_k'])} "
        f"{display.difference(f['limit_k'], u)} although subcooling is not short: press the "
        "liquid line's clamp on, then look for a restriction or a stuck valve; refrigerant is not "
        "the cure"
    ),
    "over_full": lambda f, s, u: (
        f"{display.mass(f['total_kg'], u)} is in, plate and line set take "
        f"{display.mass(f['full_kg'], u)}; look for another cause before adding more"
    ),
    "up_to_limit": lambda f, s, u: (
        f"{display.mass(f['total_kg'], u)} is in, and no more than "
        f"{display.mass(f['full_kg'], u)} may be{cited(s)}; look for another cause"
    ),
    "mass_unknown": lambda f, s, u: (
        (f"step {f['step']:.0f}" if "step" in f else "the last step")
        + " has no amount, so the charge in the circuit is not known; "
        + ("weigh what was recovered" if "recovered" in f else "read the scale")
        + " and enter it"
    ),
}

_CAUTION: dict[str, Phrase] = {
    **FAULT_CAUTION,
    **INSTRUMENT_CAUTION,
    **UNIT_CAUTION,
    **TROUBLE_CAUTION,
    "hold_expiring": lambda f, s, u: (
        f"the frequency hold runs out in {display.duration(f['seconds_s'])}"
    ),
    "approach_disagrees": lambda f, s, u: (
        f"approach of {display.difference(f['approach_k'], u)} (wanted "
        f"{display.difference_number(f['target_k'], u)} ± "
        f"{display.difference(f['tolerance_k'], u)}) says otherwise: {s}; check the outdoor coil, "
        "both clamps and the pressure probe before relying on either"
    ),
    "over_plate": lambda f, s, u: (
        f"{display.mass(f['total_kg'], u)} is in, more than the {display.mass(f['full_kg'], u)} "
        "that plate and line set take"
    ),
    "condition_waived": lambda f, s, u: f"no final reading: {s}",
    "condition_unknown": lambda f, s, u: f"not known yet: {s}; check and confirm it",
    "probe_doubt": lambda f, s, u: f"{s} for {display.duration(f['since_s'])}",
    "simulated": lambda f, s, u: "simulated readings: nothing here was measured",
}
