"""Faults that the tool does not find: what shows costs, what no reading shows does not.

All invented. The faults are the plant's; the ranges that a reading has to lie outside of are limits
with their sources (`chargeassist.guide.usual_ranges`).
"""

import asyncio
from functools import partial
from pathlib import Path

import pytest

from chargeassist.guide.fault_terms import Feature
from chargeassist.model.display import UnitSystem
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.simulate import run_scenario
from chargeassist.trainer.calls import FIXES
from chargeassist.trainer.report import report_lines
from chargeassist.trainer.result import JudgedCall, Part, Showed, read_result, write_result
from chargeassist.trainer.score import Reference, score
from chargeassist.trainer.showing import Look, in_words, shown_of
from chargeassist.trainer.truth import Stretch
from tests.unit.trainer.playing import calls_of_the_tool, played

JOB = find_scenario("clean-charge", Path()).job
HEAD = Showed(
    reading=Feature.CONDENSING, sign="high", value_si=15.7, low_si=4.4, high_si=14.2
)  # fmt: skip
OWN = """
title = "One of our own"
about = "Invented."
expect = "stop"
lasts = "30 min"
seed = 7
technician = "pilot"
job = "library"

[plant]
charge = "1.95 kg"

[weather]
outdoor = "24 °C"
return_air = "24 °C"
return_wet_bulb = "17.2 °C"
gusts = "0.2 K"

[[fault]]
kind = "{kind}"
amount = "{amount}"
"""


def own(folder: Path, kind: str, amount: str) -> str:
    file = folder / "own.toml"
    file.write_text(OWN.format(kind=kind, amount=amount), encoding="utf-8")
    return str(file)


def tool_followed(place: str) -> str:
    return calls_of_the_tool(asyncio.run(run_scenario(find_scenario(place, Path()))))


def at_once(look: Look, *_: object) -> Look:
    return look


def wrong_cure(parts: tuple[Part, ...]) -> list[float]:
    return [part.points for part in parts if part.rule == "wrong cure"]


@pytest.mark.parametrize(
    ("kind", "amount", "word", "reading"),
    [
        ("outdoor airflow", "57 %", "outdoor coil", "condensing temperature over outdoor air high"),
        ("non-condensables", "0.08 mol/kg", "gas", "refrigerant weighed in"),
    ],
)
def test_who_stops_with_the_tool_loses_what_a_fault_that_shows_is_worth(
    tmp_path: Path, kind: str, amount: str, word: str, reading: str
) -> None:
    place = own(tmp_path, kind, amount)
    calls = tool_followed(place)
    result = played(place, calls, tmp_path)
    assert result.calls[-1].tool_said == "stop"
    (part,) = [each for each in result.parts if each.rule == "wrong cure"]
    assert part.points == 10.0
    assert part.why.startswith(f"never called: {word}, though it shows ({reading}")
    assert any(part.why in line for line in report_lines(result, UnitSystem.SI))
    write_result(result, tmp_path / "x.drill.json")
    assert read_result(tmp_path / "x.drill.json") == result
    named = calls.rpartition("\n")[0] + f"\n+40 s fix: {word}"
    (tmp_path / "b").mkdir()
    assert wrong_cure(played(place, named, tmp_path / "b").parts) == []


@pytest.mark.parametrize(
    ("kind", "amount"),
    [
        ("outdoor airflow", "75 %"),
        ("liquid line restriction", "200 kPa"),
        ("indoor airflow", "75 %"),
        ("outdoor airflow", "100 %"),
    ],
)
def test_what_no_reading_shows_costs_nothing(tmp_path: Path, kind: str, amount: str) -> None:
    place = own(tmp_path, kind, amount)
    assert wrong_cure(played(place, tool_followed(place), tmp_path).parts) == []


def test_who_is_quicker_than_the_tool_is_held_against_what_it_says_a_little_later(
    tmp_path: Path,
) -> None:
    place = own(tmp_path, "indoor airflow", "75 %")
    for number, (text, ended) in enumerate(
        (("4:00 settled\n+5 s add 60 g\n+1 min stop", "stop"), ("", "time"))
    ):
        folder = tmp_path / f"{number}"
        folder.mkdir()
        result = played(place, text, folder)
        assert (result.ended_by, wrong_cure(result.parts)) == (ended, [])
        if number == 0:
            assert {call.tool_said for call in result.calls} == {"wait"}
    dirty = played("dirty-condenser", "4:00 settled\n+5 s add 60 g\n+1 min stop", tmp_path)
    assert {call.tool_said for call in dirty.calls} == {"wait"}
    (part,) = [each for each in dirty.parts if each.rule == "wrong cure"]
    assert part.points == 30.0
    assert part.why == (
        "add at 4:05, although: outdoor coil; a little later the same readings tell the tool so"
    )
    (tmp_path / "stops").mkdir()
    stops = played("dirty-condenser", "4:00 stop", tmp_path / "stops")
    assert wrong_cure(stops.parts) == [30.0]


def test_who_stops_before_the_tool_does_is_held_against_the_end_of_its_patience(
    tmp_path: Path,
) -> None:
    # It says "add" first; the leak it finds a few minutes later, in the same still readings.
    left = played("hose-leak", "5:30 add 110 g\n+4 min add 110 g\n14:05 stop", tmp_path)
    parts = [part for part in left.parts if part.rule == "wrong cure"]
    assert [part.why for part in parts] == [
        "never called: leak; a little later the same readings tell the tool so"
    ]


@pytest.mark.parametrize(
    ("cause", "points"),
    [("not_the_cure", [30.0]), ("hold_missing", []), ("condition_filters_panels", [])],
)
def test_what_has_to_be_done_first_says_nothing_of_a_fault(cause: str, points: list[float]) -> None:
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 5.0)],
        faults_at=lambda t: frozenset({"outdoor coil"}),
        end_t=500.0,
        left=Look("stop"),
        patience=partial(at_once, Look("add")),
    )
    add = JudgedCall(t=300.0, kind="add", mass_kg=0.05, tool_said="fix first", tool_cause=cause)
    assert wrong_cure(score(JOB, (add,), reference)[1]) == points


def test_a_trainee_is_told_what_the_tool_would_have_fixed_first(tmp_path: Path) -> None:
    result = played("dirty-condenser", "6:00 fix: gas", tmp_path)
    told = report_lines(result, UnitSystem.SI)[-1]
    assert told.endswith("the tool said fix first: outdoor coil dirty or short of air")


def test_leaving_a_fault_uncalled_costs_by_what_the_end_offered() -> None:
    there = frozenset({"outdoor coil"})
    stretches = [Stretch(0.0, 200.0, 5.0)]
    for look, points in (
        (Look("fix first"), [30.0]),
        (Look("fix first", (HEAD,)), [30.0]),
        (Look("stop", (HEAD,)), [10.0]),
        (Look("wait", (HEAD,)), [10.0]),
        (Look("add", (HEAD,)), [10.0]),
        (Look("stop"), []),
        (Look("add"), []),
        (Look("wait"), []),
    ):
        stop = JudgedCall(t=500.0, kind="stop", tool_said=look.said, showed=look.showed)
        reference = Reference(
            stretches=stretches, faults_at=lambda t: there, end_t=500.0, left=look,
            patience=partial(at_once, look),
        )  # fmt: skip
        for calls in ((stop,), ()):
            assert wrong_cure(score(JOB, calls, reference)[1]) == points, (look, calls)
        fixed = JudgedCall(t=500.0, kind="fix", fix="outdoor coil", tool_said=look.said)
        assert wrong_cure(score(JOB, (fixed,), reference)[1]) == []


def test_a_reading_speaks_for_the_faults_that_move_it_that_way_only() -> None:
    low = Showed(reading=Feature.CONDENSING, sign="low", value_si=3.0, low_si=4.4, high_si=14.2)
    found = {word for word in FIXES if shown_of(word, (HEAD,), JOB)}
    assert found == {"outdoor coil", "gas", "restriction", "zero"}
    assert "outdoor coil" not in {word for word in FIXES if shown_of(word, (low,), JOB)}
    assert in_words(HEAD) == (
        "condensing temperature over outdoor air high: 15.7 K, in a sound unit 4.4 K to 14.2 K"
    )
