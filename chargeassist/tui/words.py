"""What the screen says beside the guide's sentences: rates, ledger lines, the hold, the sources."""

from textual.content import Content

from chargeassist.guide import wording
from chargeassist.guide.guards import STEP_OPEN
from chargeassist.guide.snapshot import Caution, Snapshot, SourceFacts
from chargeassist.model import display, units
from chargeassist.model.channels import Channel, Role
from chargeassist.model.display import NO_NUMBER, UnitSystem
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.events import Action, Advice
from chargeassist.model.judged import SUBCOOLING, JudgedQuantity
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import ChargeStep, Facts, HandFacts, HoldFacts, Measured
from chargeassist.stream.hold import stands_still
from chargeassist.stream.typed_readings import TYPED_SOURCE
from chargeassist.tui.pen import Pen

_SENTENCE = 600

STATE_MEANINGS = {
    "settled": "what is still to come is too small to matter, and the conditions hold",
    "two-phase": "stands at saturation: no subcooling yet, and no level to judge",
    "nearly settled": "quiet, but not for long enough to be sure, or a witness still moves",
    "moving": "still changing: no verdict is given on it",
    "no signal": "nothing fresh arrives, so nothing is computed from it",
    "by hand": "read off and typed, a minute or so apart",
}

_RATE_UNITS = {
    (Quantity.PRESSURE, UnitSystem.SI): "kPa",
    (Quantity.PRESSURE, UnitSystem.US): "psi",
    (Quantity.TEMPERATURE, UnitSystem.SI): "K",
    (Quantity.TEMPERATURE, UnitSystem.US): "°F",
    (Quantity.MASS, UnitSystem.SI): "g",
    (Quantity.MASS, UnitSystem.US): "oz",
    (Quantity.CURRENT, UnitSystem.SI): "A",
    (Quantity.CURRENT, UnitSystem.US): "A",
    (Quantity.FREQUENCY, UnitSystem.SI): "Hz",
    (Quantity.FREQUENCY, UnitSystem.US): "Hz",
    (Quantity.VOLTAGE, UnitSystem.SI): "V",
    (Quantity.VOLTAGE, UnitSystem.US): "V",
    (Quantity.FRACTION, UnitSystem.SI): "%",
    (Quantity.FRACTION, UnitSystem.US): "%",
}


_UNIT_SYMBOLS = frozenset(
    symbol for quantity in Quantity for symbol in units.unit_symbols(quantity)
) | {"min", "s", "h"}

_HEADLINES = {
    "condition_filters_panels": "CHECK FILTER",
    "mass_unknown": "SAY THE AMOUNT",
    "no_signal": "CHECK PROBE",
    "probe_trouble": "CHECK PROBE",
}
"""What is in the way, where two words say it across a yard: the sentence has the rest."""


_BRIEFER = {
    "LET THE NITROGEN OUT": ("LET NITROGEN OUT", "NITROGEN OUT"),
    "BREAK WITH NITROGEN": ("LET NITROGEN IN", "NITROGEN IN"),
    "SHUT THE NITROGEN": ("SHUT NITROGEN",),
    "OPEN THE SERVICE VALVES": ("OPEN THE VALVES", "OPEN VALVES"),
}


def briefer(text: str) -> tuple[str, ...]:
    """Return `text`, a headline in capitals, and what is said where its letters have no room.

    The sentence under it has the whole; a pressure keeps its number and unit.
    """
    _, to, pressure = text.removesuffix(" GAUGE").partition("RAISE TO ")
    if to:
        return text, to + pressure, f"TO {pressure}"
    return text, *_BRIEFER.get(text, ())


def headline(advice: Advice, system: UnitSystem) -> str:
    """Return the instruction with its verb in capitals: "ADD 85 g".

    While the valve is open it is what the scale has seen go in, and where something is to be put
    right first, what that is, as far as two words can say it: "40 OF 110 g", "HOLD 72 Hz".
    """
    if advice.cause == "step_open" and "so_far_kg" in advice.figures:
        return _so_far(advice.figures["so_far_kg"], advice.figures.get("wanted_kg"), system)
    if advice.cause == "weigh_in_open" and "so_far_kg" in advice.figures:
        figures = advice.figures
        return _so_far(figures["so_far_kg"], figures["target_kg"] - figures["total_kg"], system)
    if advice.cause in {"hold_missing", "hold_expired"} and "required_hz" in advice.figures:
        return f"HOLD {advice.figures['required_hz']:.4g} Hz"
    at_valve = STEP_OPEN in advice.figures  # a hand at the valve has to shut it first
    if advice.action is Action.FIX_FIRST and advice.cause in _HEADLINES and not at_valve:
        return _HEADLINES[advice.cause]
    verb = advice.action.value
    text = wording.headline(advice, system)
    return verb.upper() + text[len(verb) :] if text.lower().startswith(verb) else capitals(text)


def _so_far(so_far_kg: float, wanted_kg: float | None, system: UnitSystem) -> str:
    so_far = display.mass(so_far_kg, system)
    if wanted_kg is None:
        return f"IN {so_far}"
    wanted = display.mass(wanted_kg, system)
    # The unit is said once where both have the same: not "4.0 OF 3 lb 1.0 oz".
    number, _, unit = so_far.rpartition(" ")
    same_units = so_far.split(" ")[1::2] == wanted.split(" ")[1::2] == [unit]
    return f"{number if same_units else so_far} OF {wanted}"


def capitals(text: str) -> str:
    """Return a headline in capitals, units as they are written: "RAISE TO 1000 kPa"."""
    words = text.split(" ")
    before = ["", *words[:-1]]
    return " ".join(
        word if word in _UNIT_SYMBOLS and number[-1:].isdigit() else word.upper()
        for number, word in zip(before, words, strict=True)
    )


def reason(advice: Advice, system: UnitSystem) -> str:
    """Return why, as one clause."""
    try:
        text = wording.reason(advice, system)
    except KeyError:
        # An instruction without its sentence is still an instruction: never blank the screen.
        text = advice.cause.replace("_", " ")
    return plain(text, _SENTENCE)


def without_source(text: str) -> tuple[str, str]:
    """Return a reason apart from the source in brackets it ends with, and that source."""
    at = text.rfind(" [")
    return (text[:at], text[at:]) if at > 0 and text.endswith("]") else (text, "")


def caution(item: Caution, system: UnitSystem) -> str:
    """Return one caution as a sentence without full stop."""
    try:
        text = wording.caution(item, system)
    except KeyError:
        text = item.cause.replace("_", " ")
    return plain(text, _SENTENCE)


def target(snapshot: Snapshot, system: UnitSystem) -> str:
    """Return the target band: "8.0 to 10.0 °F"; a dash where there is none."""
    goal = snapshot.facts.goal(snapshot.job.target)
    if isinstance(goal, NoValue):
        return f"target {NO_NUMBER}"
    low = display.difference_number(goal.low_k, system)
    return f"{low} to {display.difference(goal.high_k, system)}"


def witness_range(snapshot: Snapshot, system: UnitSystem) -> str:
    """Return what the value beside the judged one must lie in."""
    if snapshot.facts.judged is SUBCOOLING:
        return superheat_range(snapshot, system)
    return f"up to {display.difference(snapshot.job.target.subcooling_high_k, system)}"


def superheat_range(snapshot: Snapshot, system: UnitSystem) -> str:
    """Return what superheat must lie in for refrigerant to be the cure: "4.0 to 25.0 °F"."""
    goal = snapshot.job.target
    low = display.difference_number(goal.superheat_low_k, system)
    return f"{low} to {display.difference(goal.superheat_high_k, system)}"


def change(
    slope_si_per_s: float | None, allowed_si_per_s: float, channel: Channel, system: UnitSystem
) -> tuple[str, str]:
    """Return the change per minute and what is allowed of it: ("+0.41", "±0.20 °F/min").

    Both have as many decimals as the allowance needs to be more than zero.

    Parameters
    ----------
    slope_si_per_s : float or None
    allowed_si_per_s : float
        0: nothing is judged by this channel's change, and the second text is the unit alone.
    channel : Channel
    system : UnitSystem
    """
    quantity = channel.quantity
    name = _RATE_UNITS.get((quantity, system))
    if channel.role is Role.VACUUM:
        # What a pressure may change by in a minute is more than a vacuum ever is.
        name, allowed_si_per_s = ("Pa" if system is UnitSystem.SI else "micron"), 0.0
    if name is None:
        return NO_NUMBER, ""
    kind = Quantity.TEMPERATURE_DIFFERENCE if quantity is Quantity.TEMPERATURE else quantity
    scale = units.find_unit(name, kind).scale
    allowed = allowed_si_per_s * 60.0 / scale
    decimals = 0 if allowed >= 10 else 1 if allowed >= 1 or allowed <= 0 else 2
    unit = f"{name}/min"
    limit = f"±{allowed:.{decimals}f} {unit}" if allowed > 0 else unit
    if slope_si_per_s is None:
        return NO_NUMBER, limit
    return signed(slope_si_per_s * 60.0 / scale, decimals), limit


def signed(value: float, decimals: int) -> str:
    """Return a number with its sign, and none where it is zero as shown."""
    text = f"{value:+.{decimals}f}"
    if float(text) == 0.0:
        return text[1:]
    return text.replace("-", "−")


def gain(step: ChargeStep, system: UnitSystem) -> str:
    """Return what a step taught: "+1.9 K per 100 g" or "+1.0 °F per oz"."""
    if step.gain_k_per_kg is None:
        return NO_NUMBER
    if system is UnitSystem.US:
        ounce_kg = units.find_unit("oz", Quantity.MASS).scale
        fahrenheit_k = units.find_unit("°F", Quantity.TEMPERATURE_DIFFERENCE).scale
        return f"{signed(step.gain_k_per_kg * ounce_kg / fahrenheit_k, 1)} °F per oz"
    return f"{signed(step.gain_k_per_kg * 0.1, 1)} K per 100 g"


def before_after(step: ChargeStep, system: UnitSystem) -> str:
    """Return "7.6 → 9.2 °F"; a dash where it has not settled."""
    before = (
        NO_NUMBER if step.before_k is None else display.difference_number(step.before_k, system)
    )
    after = NO_NUMBER if step.after_k is None else display.difference_number(step.after_k, system)
    return f"{before} → {after} {display.difference_unit(system)}"


def step_mass(step: ChargeStep, system: UnitSystem) -> str:
    """Return the amount of a step; "not known" when nobody said."""
    return "not known" if step.mass_kg is None else display.mass(step.mass_kg, system)


def hold(facts: HoldFacts, t: float, *, brief: bool = False) -> str:
    """Return the state of the frequency hold; empty when the job requires none.

    Parameters
    ----------
    facts : HoldFacts
    t : float
        Session time [s].
    brief : bool
        Without since when, and who told it.
    """
    if facts.required_hz is None:
        return ""
    required = f"{facts.required_hz:.4g} Hz"
    if not facts.held:
        actual = ""
        if facts.actual_hz is not None:
            stands = stands_still(facts.actual_hz, None, 0.0)
            actual = ", it stands" if stands else f", it runs at {facts.actual_hz:.4g} Hz"
        ramp = "" if facts.ramp_s is None else f", on its way for {display.clock(facts.ramp_s)}"
        return f"not held at {required}{actual}{ramp}"
    text = f"held at {required}"
    if facts.since_t is not None and not brief:
        text += f" for {display.clock(max(0.0, t - facts.since_t))}"
    if facts.told_by and not brief:
        text += f", told by the {'probe' if facts.told_by == 'channel' else facts.told_by}"
    if facts.expires_s is not None:
        text += f", runs out in {display.duration(facts.expires_s)}"
    return text


def source_lost(item: SourceFacts, t: float) -> str:
    """Return since when a lost source is silent, and why."""
    why = f": {plain(item.reason, 80)}" if item.reason else ""
    since = t if item.lost_since is None else item.lost_since
    return f"{plain(item.name, 40)} lost for {display.duration(t - since)}{why}"


def source_of_silence(snapshot: Snapshot) -> str:
    """Return that with the probe asked about all of its source is silent, and why; else nothing."""
    if snapshot.advice.cause != "no_signal":
        return ""
    of = {e.channel.role.label: e.channel.source for e in snapshot.facts.channels}
    for item in snapshot.sources:
        if item.lost_since is not None and item.name == of.get(snapshot.advice.subject):
            why = f": {plain(item.reason, 80)}" if item.reason else ""
            return f"all of {plain(item.name, 40)} is silent{why}"
    return ""


def spoilt(item: SourceFacts, *, why: bool = True) -> str:
    """Return how much of a source could not be used, and why: "cart: 3 unreadable, 2 dropped".

    Parameters
    ----------
    item : SourceFacts
    why : bool
        With the reason of the newest, where one is known.

    Returns
    -------
    str
        Empty where all could be used.
    """
    counts = ((item.bad_inputs, "unreadable"), (item.dropped, "dropped"))
    parts = [f"{count} {word}" for count, word in counts if count]
    if not parts:
        return ""
    last = f", last: {plain(item.bad_why, 200)}" if item.bad_why and why else ""
    return f"{plain(item.name, 40)}: {', '.join(parts)}{last}"


def to_go(snapshot: Snapshot) -> tuple[str, str]:
    """Return the seconds to go as digits, and between what they lie: ("70", "50 to 90 s").

    Digits are empty when the judged value has settled, and "--" when nothing can be said.
    """
    settling = snapshot.facts.settling
    if snapshot.facts.settled is not None:
        return "", ""
    forecast = settling.forecast
    if forecast is None or forecast.seconds is None:
        return "--", "not known yet"
    digits = f"{_tens(forecast.seconds):.0f}"
    if forecast.seconds_low is None or forecast.seconds_high is None:
        return digits, ""
    low, high = _tens(forecast.seconds_low), _tens(forecast.seconds_high)
    return digits, "" if low == high else f"{low:.0f} to {high:.0f} s"


def without_value(facts: Facts, why: NoValue) -> str:
    """Return why there is no value now: what is silent, or what nobody has read yet."""
    hand = facts.by_hand
    if hand is None or not hand.wanted:
        reason = plain(why.reason)
        return reason if reason.startswith("no signal") else f"no signal: {reason}"
    return f"to be read: {' and '.join(role.label for role in hand.wanted)}"


def read_by_hand(facts: Facts, judged: JudgedQuantity) -> bool:
    """Return whether no probe of the job reads a line, in a session in which gauges are read."""
    probes = {c.channel.role for c in facts.channels if c.channel.source != TYPED_SOURCE}
    return facts.by_hand is not None and not {judged.pressure, judged.temperature} <= probes


def hand_lines(hand: HandFacts) -> tuple[str, str]:
    """Return how many readings by hand there are since the last change, in two lines."""
    if hand.readings < hand.least:
        return f"{hand.readings} of at least {hand.least}", "readings"
    return f"{hand.readings} readings", "not settled yet"


def value_lines(
    value: Measured | None, system: UnitSystem, *, by_hand: bool = False
) -> tuple[str, str]:
    """Return a derived value as digits and its uncertainty as text: ("9.2", "± 0.8 °F")."""
    if value is None:
        return "--", "not read" if by_hand else "no signal"
    digits = display.difference_number(value.value_k, system).replace("−", "-")
    if value.expanded_k is None:
        return digits, f"{display.difference_unit(system)}, U unknown"
    return digits, f"± {display.difference(value.expanded_k, system)}"


def failure(error: BaseException) -> str:
    """Return what went wrong as text: every leaf of an exception group on its own line."""
    if isinstance(error, BaseExceptionGroup):
        return "\n".join(failure(each) for each in error.exceptions)
    text = plain(str(error), 600)
    if text and isinstance(error, ChargeAssistError):
        return text  # our own words, which say what to do
    name = type(error).__name__
    return f"{name}: {text}" if text else name


def instruction(action: Action) -> str:
    """Return one line on what an instruction asks for, for the help."""
    return {
        Action.WAIT: "nothing to decide yet; the sentence under it says what for",
        Action.ADD: "add this much, then wait again",
        Action.STOP: "no more refrigerant; the sentence under it says why",
        Action.RECOVER: "take this much out, then wait again",
        Action.FIX_FIRST: "something stands in the way of any verdict",
        Action.DO: "do what it says, then tell it with Enter",
    }[action]


def labelled(pen: Pen, label: str, text: Content, width: int) -> Content:
    """Return a row that begins with a faint label of `width` cells."""
    return pen.cut(pen.line((label, pen.palette.faint)), width) + text


def _tens(seconds: float) -> float:
    return max(10.0, round(seconds / 10.0) * 10.0)
