"""What a reading is judged by: the screens behind c and w, the cautions, what still moves.

Jobs, readings and sources are invented; causes are ranked by the real diagnosis.
"""

from dataclasses import replace

import pytest
from textual.widgets import Input

from chargeassist.guide.conditions import Condition, ConditionState
from chargeassist.guide.snapshot import Caution, Snapshot
from chargeassist.guide.stages.unit_checks import UnitChecks
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, MarkKind
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.stream.facts import ChannelState, HoldFacts, OpenStep, SettleState, Settling
from chargeassist.stream.probe_findings import ProbeTrouble, Severity
from chargeassist.tui import judgement
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import STATES, add, checks, fix, moving, replay, suspect
from chargeassist.tui.screens.board import Board
from chargeassist.tui.screens.checks import Checks
from chargeassist.tui.widgets.notices import pressing
from tests.tui.running import TALL, Drawn, running, text, typed

# ---- c: conditions and probes


@pytest.mark.parametrize("system", list(UnitSystem))
async def test_every_condition_is_listed_with_state_value_limit_and_source(
    system: UnitSystem, drawn: Drawn
) -> None:
    session = CannedSession([checks()])
    async with running(session, system=system, size=TALL) as (app, pilot):
        await typed(pilot, "c")
        shown = text(drawn(app))
    # 15.0 °C is 59.0 °F, 24.2 °C is 75.6 °F, 21.0 °C is 69.8 °F; °F = 1.8 °C + 32, by hand.
    outdoor, now, back = (
        ("15.0 °C", "24.2 °C", "21.0 °C")
        if system is UnitSystem.SI
        else ("59.0 °F", "75.6 °F", "69.8 °F")
    )
    manual = "invented installation manual, page 12 (equipment instructions)"
    code = "invented county energy code, section 4, 2020 (adopted local code)"
    assert "profile california-installer" in shown
    assert f"met outdoor air at least {outdoor}, now {now} {manual}" in shown
    assert f"1 not known return air at least {back}, nothing measures it {manual}" in shown
    assert f"2 not known indoor airflow more than 300 cfm/ton, nothing measures it {code}" in shown
    assert f"met run before a reading at least 15 min, so far 24 min {code}, from memory" in shown
    # What calls for a hand stands first.
    assert shown.index("not known return air") < shown.index("met outdoor air")


async def test_an_unmet_condition_stands_first_and_can_only_be_gone_on_without(
    drawn: Drawn,
) -> None:
    base = checks()
    cold = replace(base.conditions[0], state=ConditionState.UNMET, value_si=283.15)
    session = CannedSession([replace(base, conditions=(*base.conditions[1:], cold))])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c")
        shown = text(drawn(app))
        row = "1 not met outdoor air at least 15.0 °C, now 10.0 °C"
        assert shown.index(row) < shown.index("2 not known return air")
        await typed(pilot, "1", "enter")
        assert session.marks == []
        assert "x goes on without it, with a reason" in text(drawn(app))
        await typed(pilot, "x")
        assert "Why go on without: outdoor air at least?" in text(drawn(app))
        await typed(pilot, "enter")
        assert session.marks == []  # without a reason nothing is recorded
        app.screen.query_one(Input).value = "maker's hotline agrees"
        await typed(pilot, "enter")
    assert session.marks == [
        (MarkKind.CONDITION_WAIVED, None, None, "outdoor_low: maker's hotline agrees")
    ]


async def test_filter_and_panels_are_asked_for_once_more_before_they_count(drawn: Drawn) -> None:
    base = checks()
    limit = replace(base.conditions[0].limit, key=LimitKey.FILTERS_PANELS, as_written="yes")
    unseen = Condition(limit=limit, state=ConditionState.UNKNOWN)
    asks = UnitChecks.next_mark(
        Advice(t=base.t, action=Action.FIX_FIRST, cause="condition_filters_panels")
    )
    shot = replace(base, conditions=(*base.conditions, unseen), next_mark=asks, unread=())
    session = CannedSession([shot])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "enter")
        assert session.marks == []
        asked = text(drawn(app))
        assert "You have looked: filter clean, registers open, panels on: yes?" in asked
        assert "Enter records it x goes on without it" in asked
        # Asked alone: what is not asked would stand between the question and its answer.
        assert "Defaults of this program" not in asked
        await typed(pilot, "enter")
    assert session.marks == [(MarkKind.CONFIRMED, None, None, "filters_panels")]


async def test_every_other_limit_stands_there_with_its_source(drawn: Drawn) -> None:
    base = checks()
    job = replace(base.job, limits=(*base.job.limits, USUAL[LimitKey.TIGHTNESS_FALL]))
    session = CannedSession([replace(base, job=job)])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c")
        shown = text(drawn(app))
    assert "Other limits of this job" in shown
    defaults = shown.partition("Defaults of this program")[2]
    assert "authority: rule of thumb" in defaults
    assert "pressure step falling, by 3 % [assumption, no published source]" in defaults


async def test_what_was_checked_by_other_means_is_picked_asked_and_marked(drawn: Drawn) -> None:
    session = CannedSession([checks()])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c", "2")
        asked = "You have checked by other means: indoor airflow more than 300 cfm/ton?"
        assert asked in text(drawn(app))
        assert session.marks == []
        await typed(pilot, "enter")
        assert isinstance(app.screen, Board)
        assert session.marks == [(MarkKind.CONFIRMED, None, None, "airflow_low")]
        app.paint()
        await pilot.pause()
        said = "Recorded: indoor airflow more than 300 cfm/ton, checked."
        assert said in text(drawn(app))


async def test_a_probe_that_was_seen_to_is_marked_by_its_channel(drawn: Drawn) -> None:
    session = CannedSession([checks()])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c", "3")
        assert "You have seen to the probe: suction line temperature?" in text(drawn(app))
        await typed(pilot, "enter", "c", "4", "enter")
    assert session.marks == [
        (MarkKind.PROBE_SEEN_TO, None, None, "suction_temperature"),
        (MarkKind.PROBE_SEEN_TO, None, None, "liquid_pressure"),
    ]


async def test_findings_say_probe_duration_and_what_was_seen(drawn: Drawn) -> None:
    session = CannedSession([checks()])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c")
        shown = text(drawn(app))
        assert "3 loose suction line temperature, for 2 min: it went toward outdoor air" in shown
        assert "4 noisy liquid line pressure, for 45 s: it is much noisier" in shown
        # One that is only still warming up is no matter for a hand: it has no number.
        assert not any(row.startswith("│   5 ") for row in drawn(app))
        assert "still creeping liquid line temperature, for 60 s" in shown
        await typed(pilot, "5", "9", "enter")
        assert isinstance(app.screen, Checks)
    assert session.marks == []


@pytest.mark.parametrize(
    "keys", [("enter",), ("2", "2", "enter"), ("2", "escape"), ("c",), ("2", "q"), ("7", "enter")]
)
async def test_no_slip_confirms_anything(keys: tuple[str, ...]) -> None:
    session = CannedSession([checks()])
    async with running(session, size=TALL) as (_, pilot):
        await typed(pilot, "c", *keys)
    assert session.marks == []


async def test_one_channel_with_two_findings_has_one_number(drawn: Drawn) -> None:
    base = checks()
    twice = replace(base.facts.findings[0], kind=ProbeTrouble.STUCK, severity=Severity.UNUSABLE)
    findings = (base.facts.findings[0], twice, base.facts.findings[1])
    session = CannedSession([replace(base, facts=replace(base.facts, findings=findings))])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c")
        shown = text(drawn(app))
        assert "its value stands still; its readings say nothing about the unit" in shown
        assert "4 noisy" in shown
        await typed(pilot, "3", "enter")
    assert session.marks == [(MarkKind.PROBE_SEEN_TO, None, None, "suction_temperature")]


async def test_a_pick_that_has_settled_itself_is_not_recorded(drawn: Drawn) -> None:
    session = CannedSession([checks()])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c", "1")
        base = checks()
        met = Condition(limit=base.conditions[1].limit, state=ConditionState.MET, value_si=295.15)
        found = (base.conditions[0], met, *base.conditions[2:])
        session.feed(replace(base, conditions=found))
        app.paint()
        await pilot.pause()
        shown = text(drawn(app))
        assert "met return air at least 21.0 °C, now 22.0 °C" in shown
        assert "You have checked" not in shown
        await typed(pilot, "enter")
        assert session.marks == []
        # The number has gone on to the next; it is asked by name before it counts.
        await typed(pilot, "1")
        assert "You have checked by other means: indoor airflow" in text(drawn(app))


async def test_a_replay_takes_no_confirmation(drawn: Drawn) -> None:
    session = CannedSession([replace(checks(), replayed=True)])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c", "1", "enter")
        app.paint()
        await pilot.pause()
        assert "what was recorded stays as it is" in text(drawn(app))
    assert session.marks == []


async def test_a_job_without_conditions_says_what_is_not_judged(drawn: Drawn) -> None:
    async with running(CannedSession([replay()]), size=TALL) as (app, pilot):
        await typed(pilot, "c")
        shown = " ".join(text(drawn(app)).split())
        assert "not judged" in shown
        assert "outdoor air, return air, run before a reading, indoor airflow" in shown
        assert "no profile, and the job file gives no limit for it" in shown


@pytest.mark.parametrize("unicode", [True, False])
@pytest.mark.parametrize("size", [(80, 24), (60, 20), (40, 12), (120, 40)])
@pytest.mark.parametrize(("state", "key"), [("checks", "c"), ("suspect", "w")])
async def test_both_fit_their_screen_and_scroll_to_the_last_line(
    state: str, key: str, size: tuple[int, int], unicode: bool, drawn: Drawn
) -> None:
    session = CannedSession([STATES[state]()])
    async with running(session, size=size, unicode=unicode) as (app, pilot):
        await typed(pilot, key)
        lines = drawn(app)
        assert "Millrace Lane" in lines[0]
        assert all(len(line) <= size[0] for line in lines)
        await typed(pilot, "end")
        assert "Esc goes back" in text(drawn(app)).replace("|", " ")
        if not unicode:
            assert all(line.isascii() for line in drawn(app))


async def test_numbers_can_be_touched() -> None:
    session = CannedSession([checks()])
    async with running(session, size=TALL) as (app, pilot):
        await typed(pilot, "c")
        await app.screen.run_action("screen.pick(1)")
        await typed(pilot, "enter")
    assert session.marks == [(MarkKind.CONFIRMED, None, None, "indoor_low")]


async def test_help_names_both_keys(drawn: Drawn) -> None:
    async with running(CannedSession([add()]), size=TALL) as (app, pilot):
        await typed(pilot, "question_mark")
        shown = text(drawn(app))
    words = "conditions and limits with their sources, and probes: confirm, or go on without (x)"
    assert f"c {words}" in shown
    assert "w why: causes that explain the readings, with the evidence" in shown


def with_moving(base: Snapshot, *roles: Role) -> Snapshot:
    """Return `base` with the channels of `roles` moving and no other."""
    channels = tuple(
        replace(
            each,
            state=ChannelState.MOVING if each.channel.role in roles else ChannelState.SETTLED,
        )
        for each in base.facts.channels
    )
    return replace(base, facts=replace(base.facts, channels=channels))


PRESSURE, TEMP = Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE
SUCTION, SUCTION_TEMP = Role.SUCTION_PRESSURE, Role.SUCTION_TEMPERATURE
AMPS = Role.COMPRESSOR_CURRENT


@pytest.mark.parametrize(
    ("roles", "words"),
    [
        ((PRESSURE,), "liquid line pressure still moving"),
        ((TEMP,), "liquid line temperature still moving"),
        ((PRESSURE, TEMP), "liquid line pressure and temperature still moving"),
        ((SUCTION,), "superheat still moving"),
        ((SUCTION_TEMP, AMPS), "superheat and amps still moving"),
        ((TEMP, AMPS), "liquid line temperature still moving; amps still moving"),
        ((Role.OUTDOOR_AIR_TEMPERATURE,), ""),
        ((), ""),
    ],
)
async def test_the_line_says_which_input_still_moves(
    roles: tuple[Role, ...], words: str, drawn: Drawn
) -> None:
    snapshot = with_moving(moving(), *roles)
    assert judgement.still_moving(snapshot.facts) == words
    async with running(CannedSession([snapshot]), size=(80, 24)) as (app, _):
        shown = text(drawn(app))
    assert (f"about 70 s to go ({words})" in shown) is bool(words)
    assert ("still moving)" in shown) is bool(words)


def test_a_witness_speaks_of_a_settled_reading_too() -> None:
    assert judgement.still_moving(with_moving(add(), SUCTION_TEMP).facts) == (
        "superheat still moving"
    )


def test_what_is_judged_does_not_move_beside_the_word_settled() -> None:
    """Pressure and temperature that drift alike leave subcooling where it settled."""
    assert judgement.still_moving(with_moving(add(), PRESSURE, TEMP).facts) == ""
    both = with_moving(add(), PRESSURE, TEMP, SUCTION_TEMP).facts
    assert judgement.still_moving(both) == "superheat still moving"


async def test_a_lost_source_is_named_in_place_of_the_clamps_it_brought(drawn: Drawn) -> None:
    base = fix()
    async with running(CannedSession([base]), size=(100, 30)) as (app, _):
        assert "for 47 s; check the probe, its cable or radio" in text(drawn(app))
    channels = tuple(
        replace(each, channel=replace(each.channel, source="roof gateway"))
        for each in base.facts.channels
    )
    lost = replace(base, facts=replace(base.facts, channels=channels))
    async with running(CannedSession([lost]), size=(100, 30)) as (app, _):
        shown = text(drawn(app))
    assert "for 47 s; all of roof gateway is silent: broker closed the line" in shown
    assert "check the probe" not in shown


def test_nothing_is_said_of_movement_while_it_means_nothing() -> None:
    facts = with_moving(moving(), TEMP).facts
    assert judgement.still_moving(replace(facts, step_open=OpenStep(begun_t=1.0))) == ""
    unheld = HoldFacts(required_hz=72.0, held=False)
    assert judgement.still_moving(replace(facts, hold=unheld)) == ""
    silent = Settling(state=SettleState.NO_SIGNAL)
    assert judgement.still_moving(replace(facts, settling=silent)) == ""
    assert judgement.still_moving(fix().facts) == ""


def test_cautions_are_ordered_and_unknown_conditions_share_a_line() -> None:
    base = checks()
    failing = Caution(cause="record_failing", subject="disk full")
    lost = Caution(cause="source_lost", subject="cart", figures={"seconds_s": 9.0})
    likely = Caution(cause="suspect", subject="pipe clamp loose", figures={"chance": 0.8})
    mixed = (Caution(cause="simulated"), *base.cautions, likely, lost, failing)
    found = pressing(replace(base, cautions=mixed))
    assert [item.cause for item in found] == [
        "record_failing",
        "source_lost",
        "hold_expiring",
        "probe_doubt",
        "probe_doubt",
        "suspect",
        "condition_unknown",
    ]
    assert found[-1].subject == "indoor low, airflow low"


def test_a_probe_the_instruction_names_is_not_told_twice() -> None:
    base = checks()
    named = "suction line temperature: loose"
    advice = replace(base.advice, cause="probe_trouble", subject=named)
    subjects = [item.subject for item in pressing(replace(base, advice=advice))]
    assert named not in subjects
    assert "liquid line pressure: noisy" in subjects


async def test_doubts_and_suspects_are_on_the_board(drawn: Drawn) -> None:
    async with running(CannedSession([suspect()]), size=(80, 24)) as (app, _):
        assert "! readings look like: outdoor coil dirty or short of air" in text(drawn(app))
    async with running(CannedSession([checks()]), size=(120, 50)) as (app, _):
        shown = text(drawn(app))
    assert "! not known yet: indoor low, airflow low; check and confirm it" in shown
    assert "! suction line temperature: loose for 2 min" in shown
