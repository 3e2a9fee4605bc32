"""Why: ranked causes with their evidence, and how certain each is said to be."""

from dataclasses import replace

from chargeassist.guide.diagnosis import (
    CHARGING_PRIOR,
    Evidence,
    FeatureReading,
    Verdict,
    diagnose,
)
from chargeassist.guide.fault_terms import Direction, Feature
from chargeassist.model.channels import Role
from chargeassist.tui import judgement
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add, moving, suspect
from chargeassist.tui.screens.board import Board
from chargeassist.tui.screens.why import Why
from tests.tui.running import TALL, Drawn, running, text, typed

# ---- w: why


async def test_why_ranks_causes_with_probability_and_evidence(drawn: Drawn) -> None:
    snapshot = suspect()
    diagnosis = snapshot.diagnosis
    assert diagnosis is not None
    async with running(CannedSession([snapshot]), size=(80, 90)) as (app, pilot):
        await typed(pilot, "w")
        assert isinstance(app.screen, Why)
        shown = text(drawn(app))
    assert "These causes cannot be told apart yet" in shown
    assert (
        "would tell more liquid line over outdoor air, discharge temperature against what the "
        "pressures call for, the maker's figure for compressor amps" in shown
    )
    places = []
    for item in diagnosis.candidates:
        name = f"{round(item.probability * 100)} % {judgement.cause_name(item)}"
        assert name in shown
        places.append(shown.index(name))
        assert len(item.evidence) == 5
        for each in item.evidence:
            side, words = judgement.evidence(each)
            assert f"{side} {words}" in shown
        assert f"next {item.next_check}" in shown
    assert places == sorted(places)
    assert "against evaporating temperature against return air high; would be normal" in shown
    assert "for condensing temperature over outdoor air high" in shown
    assert "they are no frequencies of the field" in shown
    assert "hide: a little air in the circuit (the pressure at rest shows it)" in shown


def test_what_an_orifice_hides_is_told_of_an_orifice() -> None:
    """The two tables have their own gaps; each is measured in tests/benchmarks/diagnosis."""
    told = [judgement.hidden(diagnose([], orifice=orifice)) for orifice in (False, True)]
    assert ["fixed orifice" in each for each in told] == [False, True]


async def test_why_says_plainly_that_it_is_not_enough(drawn: Drawn) -> None:
    base = add()
    reading = FeatureReading(
        feature=Feature.SUBCOOLING,
        value_si=3.7,
        expected_si=5.0,
        tolerance_si=0.8,
        expanded_si=0.42,
    )
    diagnosis = diagnose([reading], CHARGING_PRIOR)
    assert diagnosis.verdict is Verdict.NOT_ENOUGH
    async with running(CannedSession([replace(base, diagnosis=diagnosis)]), size=TALL) as (
        app,
        pilot,
    ):
        await typed(pilot, "w")
        shown = text(drawn(app))
    assert "Not enough to tell: too few readings differ clearly from what is expected" in shown
    assert "would tell more" in shown
    assert "superheat" in shown.split("would tell more")[1].split("As far as it goes")[0]


async def test_why_follows_the_session_and_any_of_its_keys_goes_back(drawn: Drawn) -> None:
    session = CannedSession([moving()])
    async with running(session, size=TALL) as (app, pilot):
        for key in ("escape", "q", "w", "enter", "space"):
            await typed(pilot, "w")
            assert "causes are ranked by settled readings only" in text(drawn(app))
            await typed(pilot, key)
            assert isinstance(app.screen, Board)
        await typed(pilot, "w")
        session.feed(suspect())
        app.paint()
        await pilot.pause()
        assert "These causes cannot be told apart yet" in text(drawn(app))
    assert session.marks == []


# ---- words


def test_signs_are_worded_by_how_certain_they_are() -> None:
    assert judgement.sign((0.9, 0.1, 0.0)) == "low"
    assert judgement.sign((0.1, 0.6, 0.3)) == "normal"
    assert judgement.sign((0.0, 0.5, 0.5)) == "normal or high"
    assert judgement.sign((0.5, 0.45, 0.05)) == "low or normal"
    assert judgement.sign((1 / 3, 1 / 3, 1 / 3)) == "too uncertain to say"
    assert judgement.sign((0.45, 0.1, 0.45)) == "too uncertain to say"


def test_evidence_is_for_against_or_silent() -> None:
    def worded(log_ratio: float, expected: Direction, *, disagree: bool = False) -> tuple[str, str]:
        return judgement.evidence(
            Evidence(
                feature=Feature.AIR_SPLIT,
                sign=(0.9, 0.1, 0.0),
                expected=expected,
                log_ratio=log_ratio,
                sources_disagree=disagree,
            )
        )

    assert worded(0.8, Direction.LOW) == ("for", "air split low")
    assert worded(-0.8, Direction.HIGH) == ("against", "air split low; would be high")
    assert worded(0.0, Direction.EITHER, disagree=True) == (
        "silent",
        "air split low; not known what the cause does to it (sources disagree)",
    )


def test_a_reading_inside_a_wide_range_speaks_for_nothing_that_would_move_it() -> None:
    """Half of what a fault does hides in a general range: that is no evidence for the fault."""
    reading = FeatureReading(
        feature=Feature.SUPERHEAT, value_si=8.0, expected_si=8.0, tolerance_si=6.0, wide=True
    )
    (worded,) = {
        judgement.evidence(each)
        for item in diagnose([reading]).causes
        for each in item.evidence
        if each.expected is Direction.LOW
    }
    assert worded == (
        "silent",
        "superheat normal; would be low, but need not show in so wide a range",
    )


def test_what_a_probe_reads_lacks_the_figure_of_the_maker_to_compare_it_with() -> None:
    base = suspect()
    diagnosis = base.diagnosis
    assert diagnosis is not None
    assert Feature.CURRENT in diagnosis.would_tell
    amps = [each for each in base.facts.channels if each.channel.role is Role.COMPRESSOR_CURRENT]
    assert amps
    assert "call for, compressor amps" in judgement.would_tell(diagnosis)
    assert "call for, the maker's figure for compressor amps" in judgement.would_tell(
        diagnosis, amps
    )


def test_a_chance_is_never_called_certain_or_nothing() -> None:
    first = diagnose([]).causes[0]
    shown = {p: judgement.chance(replace(first, probability=p)) for p in (1.0, 0.624, 0.01, 0.001)}
    assert shown == {1.0: "99 %", 0.624: "62 %", 0.01: "1 %", 0.001: "< 1 %"}
