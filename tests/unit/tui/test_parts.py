"""The small parts of the screen that need no screen. Values are invented where nothing is said."""

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO, StringIO, TextIOWrapper

import pytest

from chargeassist.guide.snapshot import SourceFacts
from chargeassist.model.channels import Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.errors import UnitError
from chargeassist.model.events import Action, SessionMode
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import ChannelState, HoldFacts, SettleState
from chargeassist.tui import answers, charge_words, words
from chargeassist.tui.pen import Pen, takes_unicode
from chargeassist.tui.preview import STATES, add, moving, stop
from chargeassist.tui.scene import Scene
from chargeassist.tui.stage_keys import StageKeys
from chargeassist.tui.trend import Trend, TrendPoint
from chargeassist.tui.widgets.big_text import big
from chargeassist.tui.widgets.channel_table import in_order
from chargeassist.tui.widgets.top_bar import badges
from chargeassist.tui.widgets.trend_plot import unbroken


def test_every_state_and_action_differs_without_colour() -> None:
    for unicode in (True, False):
        pen = Pen(unicode=unicode)
        assert len({pen.shape(state) for state in SettleState}) == len(SettleState)
        assert len({pen.state(state).plain for state in ChannelState}) == len(ChannelState)
    icons = {tuple(big("", action.value) or ()) for action in Action}
    assert len(icons) == len(Action)


@pytest.mark.parametrize("system", list(UnitSystem))
@pytest.mark.parametrize("name", sorted(STATES))
def test_every_headline_has_big_letters(name: str, system: UnitSystem) -> None:
    advice = STATES[name]().advice
    for mass_kg in (0.005, 0.085, 1.25, 2.0):
        text = words.headline(replace(advice, mass_kg=mass_kg), system)
        for double, lines in ((False, 3), (True, 6)):
            drawn = big(text, advice.action.value, double=double)
            assert drawn is not None, text
            assert len(drawn) == lines
            assert len({len(line) for line in drawn}) == 1


def test_tall_letters_are_as_high_as_double_ones_in_half_their_width() -> None:
    double = big("ADD 75 g", "add", double=True)
    tall = big("ADD 75 g", "add", tall=True)
    assert double is not None
    assert tall is not None
    assert [row.replace("██", "█").replace("  ", " ") for row in double] == tall
    assert len(tall) == 6


WEIGHED = {"so_far_kg": 1.22, "total_kg": 0.5, "target_kg": 2.3}


@pytest.mark.parametrize(
    ("action", "cause", "figures", "text"),
    [
        (Action.WAIT, "step_open", {"so_far_kg": 0.04, "wanted_kg": 0.11}, "40 OF 110 g"),
        (Action.WAIT, "step_open", {"so_far_kg": 0.04, "wanted_kg": 1.5}, "40 g OF 1.50 kg"),
        (Action.WAIT, "step_open", {"so_far_kg": 0.04}, "IN 40 g"),
        (Action.WAIT, "step_open", {}, "WAIT"),
        (Action.WAIT, "weigh_in_open", WEIGHED, "1.22 OF 1.80 kg"),
        (Action.WAIT, "weigh_in_open", {"total_kg": 0.0, "target_kg": 2.3}, "WAIT"),
        (Action.WAIT, "weigh_in_ebbed", WEIGHED, "SHUT THE VALVE"),
        (Action.FIX_FIRST, "hold_missing", {"required_hz": 72.0}, "HOLD 72 Hz"),
        (Action.FIX_FIRST, "condition_filters_panels", {}, "CHECK FILTER"),
        (Action.FIX_FIRST, "no_signal", {}, "CHECK PROBE"),
        (Action.FIX_FIRST, "mass_unknown", {}, "SAY THE AMOUNT"),
        (Action.FIX_FIRST, "not_the_cure", {}, "FIX FIRST"),
    ],
)
def test_the_headline_says_what_is_to_be_done_where_two_words_can(
    action: Action, cause: str, figures: dict[str, float], text: str
) -> None:
    advice = replace(moving().advice, action=action, cause=cause, figures=figures)
    assert words.headline(advice, UnitSystem.SI) == text
    assert big(text, action.value, tall=True) is not None


@pytest.mark.parametrize(
    ("so_far_kg", "wanted_kg", "text"),
    [
        # An ounce is 28.3495 g, a pound 16 of them (NIST SP 811, appendix B).
        (0.0284, 0.1106, "1.0 OF 3.9 oz"),
        (0.3827, 2.3, "13.5 oz OF 5 lb 1.1 oz"),
        (0.567, 2.3, "1 lb 4.0 oz OF 5 lb 1.1 oz"),
    ],
)
def test_ounces_are_not_read_as_pounds(so_far_kg: float, wanted_kg: float, text: str) -> None:
    figures = {"so_far_kg": so_far_kg, "wanted_kg": wanted_kg}
    advice = replace(moving().advice, action=Action.WAIT, cause="step_open", figures=figures)
    assert words.headline(advice, UnitSystem.US) == text


def test_a_source_in_brackets_is_told_apart_from_the_reason() -> None:
    assert words.without_source("is the filter clean? [manual, page 3]") == (
        "is the filter clean?",
        " [manual, page 3]",
    )
    assert words.without_source("close to settled") == ("close to settled", "")
    assert words.without_source("[a] and more") == ("[a] and more", "")


def test_a_letter_that_is_missing_is_not_left_out() -> None:
    assert big("ADD 5 €") is None


@pytest.mark.parametrize(
    ("encoding", "answer"),
    [("utf-8", True), ("UTF8", True), ("ascii", False), ("cp1252", False), ("latin-1", False)],
)
def test_the_encoding_decides_the_alphabet(encoding: str, answer: bool) -> None:
    assert takes_unicode(TextIOWrapper(BytesIO(), encoding=encoding)) is answer
    assert takes_unicode(StringIO()) is False  # has no encoding
    assert takes_unicode(None) is False


def channel(role: Role) -> Channel:
    """Return a channel of `role`."""
    return Channel(name=role.value, role=role, unit="K")


@pytest.mark.parametrize(
    ("role", "slope", "allowed", "system", "shown"),
    [
        # Per minute by hand: 0.005 K/s is 0.30 K/min is 0.54 °F/min; 1 psi is 6894.757 Pa.
        (Role.LIQUID_TEMPERATURE, -0.0016, 0.005, UnitSystem.US, ("−0.17", "±0.54 °F/min")),
        (Role.LIQUID_TEMPERATURE, 0.0, 0.005, UnitSystem.SI, ("0.00", "±0.30 K/min")),
        (Role.LIQUID_PRESSURE, 95.0, 333.0, UnitSystem.SI, ("+6", "±20 kPa/min")),
        (Role.LIQUID_PRESSURE, 95.0, 333.0, UnitSystem.US, ("+0.8", "±2.9 psi/min")),
        (Role.CYLINDER_MASS, -0.001, 0.0, UnitSystem.SI, ("−60.0", "g/min")),
        (Role.COMPRESSOR_CURRENT, None, 0.002, UnitSystem.SI, ("—", "±0.12 A/min")),
    ],
)
def test_change_against_what_is_allowed(
    role: Role, slope: float | None, allowed: float, system: UnitSystem, shown: tuple[str, str]
) -> None:
    assert words.change(slope, allowed, channel(role), system) == shown


def test_the_total_admits_a_step_nobody_weighed() -> None:
    snapshot = stop()
    assert charge_words.in_circuit(snapshot, UnitSystem.SI) == "2.33 kg of 2.45 kg"
    first, *others = snapshot.facts.ledger
    ledger = (replace(first, mass_kg=None), *others)
    told = replace(snapshot, facts=replace(snapshot.facts, ledger=ledger))
    assert charge_words.in_circuit(told, UnitSystem.SI) == "at least 2.33 kg of 2.45 kg"
    assert words.step_mass(ledger[0], UnitSystem.SI) == "not known"


def test_a_silent_probe_is_said_to_be_silent_once() -> None:
    facts = moving().facts
    for reason in ("no signal from liquid line pressure", "no liquid line pressure for 47 s"):
        said = words.without_value(facts, NoValue(reason))
        assert said.count("no signal") == 1
        assert said.endswith(reason)


def test_a_vacuum_changes_by_its_own_unit_and_nothing_is_allowed_it() -> None:
    gauge = Channel(name="v", role=Role.VACUUM, unit="Pa")
    # 1 micron of mercury is 0.1333224 Pa (NIST SP 811, B.8: 1 mmHg = 133.3224 Pa).
    assert words.change(0.1, 117.0, gauge, UnitSystem.SI) == ("+6.0", "Pa/min")
    assert words.change(0.1, 117.0, gauge, UnitSystem.US) == ("+45.0", "micron/min")


def test_the_hold_in_words() -> None:
    assert words.hold(HoldFacts(), 5.0) == ""
    lost = HoldFacts(required_hz=72.0, actual_hz=60.0, held=False)
    assert words.hold(lost, 5.0) == "not held at 72 Hz, it runs at 60 Hz"
    assert words.hold(replace(lost, actual_hz=0.2), 5.0) == "not held at 72 Hz, it stands"
    held = HoldFacts(required_hz=72.0, held=True, since_t=5.0, expires_s=240.0, told_by="channel")
    told = "held at 72 Hz for 1:05, told by the probe, runs out in 4 min"
    assert words.hold(held, 70.0) == told
    assert words.hold(held, 70.0, brief=True) == "held at 72 Hz, runs out in 4 min"


def test_sources_in_words() -> None:
    lost = SourceFacts(name="a", lost_since=10.0, reason="cable", bad_inputs=1, dropped=2)
    assert words.source_lost(lost, 40.0) == "a lost for 30 s: cable"
    assert words.spoilt(lost) == "a: 1 unreadable, 2 dropped"
    why = "device 1, input 99: exception 2, it has no such register"
    spoilt = replace(lost, bad_why=why)
    assert words.spoilt(spoilt) == f"a: 1 unreadable, 2 dropped, last: {why}"
    assert words.spoilt(spoilt, why=False) == "a: 1 unreadable, 2 dropped"
    assert words.spoilt(SourceFacts(name="a")) == ""


def test_badges_by_what_is_true() -> None:
    base = Scene(job=moving().job, mode=SessionMode.SIMULATED, replayed=True, snapshot=moving())
    assert badges(base) == ["SIMULATED", "REPLAY"]
    assert badges(replace(base, paused=True)) == ["SIMULATED", "REPLAY", "PAUSED"]
    field = replace(base, mode=SessionMode.FIELD, replayed=False)
    assert badges(field) == ["NOT RECORDED"]
    assert badges(replace(field, recorded_to="x")) == []


def test_the_main_channels_come_first_then_the_silent_ones() -> None:
    channels = tuple(
        replace(each, state=ChannelState.NO_SIGNAL)
        if each.channel.role is Role.COMPRESSOR_CURRENT
        else each
        for each in reversed(add().facts.channels)
    )
    roles = [each.channel.role for each in in_order(channels)]
    assert roles[:5] == [
        Role.LIQUID_PRESSURE,
        Role.LIQUID_TEMPERATURE,
        Role.SUCTION_PRESSURE,
        Role.SUCTION_TEMPERATURE,
        Role.COMPRESSOR_CURRENT,
    ]


def test_the_trend_forgets_what_is_older_than_its_window() -> None:
    trend = Trend(window_s=100.0)
    for t in range(1000):
        trend.add(replace(moving(), t=float(t)))
    assert len(trend) == 101
    trend.add(replace(moving(), t=5.0))
    assert len(trend) == 101


def test_the_trend_thins_out_but_keeps_the_newest() -> None:
    trend = Trend(window_s=100.0)
    for tenth in range(1000):
        trend.add(replace(moving(), t=tenth / 10))
    points = trend.points(20)
    assert len(points) <= 20
    assert points[-1].t == pytest.approx(99.9)
    assert [p.t for p in points] == sorted(p.t for p in points)


def test_the_plot_leaves_a_gap_where_there_was_no_signal() -> None:
    seen = [(0.0, 4.0), (10.0, 4.1), (20.0, None), (30.0, None), (40.0, 4.2), (50.0, None)]
    strokes = unbroken([TrendPoint(t, value) for t, value in seen], 60.0, 2.0)
    assert strokes == [
        [(-1.0, 8.0), (pytest.approx(-5 / 6), pytest.approx(8.2))],
        [(pytest.approx(-1 / 3), pytest.approx(8.4))],
    ]
    assert unbroken([], 0.0, 1.0) == []


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (lambda t: answers.frequency(t), ""),
        (lambda t: answers.frequency(t), "0"),
        (lambda t: answers.frequency(t), "7200"),
        (lambda t: answers.frequency(t), "72 rpm"),
        (lambda t: answers.recovered(t, UnitSystem.SI), ""),
        (lambda t: answers.recovered(t, UnitSystem.SI), "5 psi"),
        (lambda t: answers.note(t), "   "),
    ],
)
def test_answers_that_cannot_be_are_refused(read: Callable[[str], object], text: str) -> None:
    with pytest.raises(UnitError):
        read(text)


def test_answers_that_can_be() -> None:
    assert answers.frequency("72") == 72.0
    assert answers.frequency("72.5 Hz") == 72.5
    # NIST SP 811 (2008), B.8: 1 lb = 0.45359237 kg, 1 oz = 28.349523125 g (avoirdupois).
    amount = answers.amount("2 lb 3 oz", UnitSystem.SI, scale=False)
    assert amount.mass_kg == pytest.approx(2 * 0.45359237 + 3 * 0.028349523125, rel=1e-12)


def test_a_bare_number_below_zero_is_in_the_shown_unit() -> None:
    # A winter's day, and a clamp in ice: nobody types the unit that the question has just named.
    for text in ("-5", "−5", "-5 °F"):
        typed_k = answers.entry(text, Entry.OUTDOOR_AIR, UnitSystem.US)
        assert typed_k == pytest.approx((-5.0 + 459.67) / 1.8, abs=1e-9)
    assert answers.entry("-0.2", Entry.ICE_BATH, UnitSystem.SI) == pytest.approx(272.95, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,050", "write 1050 or 1.050"),  # a point alone would make one of a thousand
        ("1,050 cfm", "write 1050 cfm or 1.050 cfm"),
        ("18,5", "write a point, not a comma: 18.5"),
        ("0,125", "write a point, not a comma: 0.125"),
    ],
)
def test_a_comma_is_refused_with_what_it_may_have_meant(text: str, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        answers.entry(text, Entry.AIRFLOW, UnitSystem.US)


def test_a_minus_is_refused_where_the_amount_that_came_out_is_asked_for() -> None:
    with pytest.raises(UnitError, match=r"without a minus, got -40$"):
        answers.recovered("-40", UnitSystem.SI)


def test_the_help_names_the_key_that_tells_it_is_done() -> None:
    (key,) = (binding.key for binding in StageKeys.BINDINGS if binding.action == "done")  # type: ignore[union-attr]
    assert words.instruction(Action.DO).endswith(f"tell it with {key.capitalize()}")


@pytest.mark.parametrize("width", range(8, 40))
def test_wide_letters_are_cut_by_the_cells_they_take(width: int) -> None:
    pen = Pen()
    said = pen.line("no signal from 液管温度 ブローカー 停止中")
    cut, brief = pen.cut(said, width), pen.brief(said, width)
    assert cut.cell_length == width
    assert brief.cell_length <= width
    if width >= 25:
        assert "液管温度" in brief.plain, brief
