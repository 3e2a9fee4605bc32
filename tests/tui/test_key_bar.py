"""The foot of the board names what can be pressed now, in words that are understood.

All moments are invented.
"""

from dataclasses import replace

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.stage import NextMark
from chargeassist.model.events import MarkKind, Outcome
from chargeassist.model.hazards import Hazard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import add, simulated, step_open
from tests.tui.running import Drawn, running, shows, text, typed

AIRFLOW = NextMark(kind=MarkKind.ENTERED, label="indoor airflow")
LOOKED = NextMark(kind=MarkKind.CONFIRMED, label="filter clean, registers open, every panel on")


def caution() -> Snapshot:
    """Return a simulated unit beside which two cautions wait, and a reading can be told."""
    return replace(simulated(), tellable=(AIRFLOW,), unread=(Hazard.IGNITION, Hazard.BURNS))


def foot(lines: list[str]) -> list[str]:
    """Return the lines of the keys."""
    first = next(k for k, line in enumerate(lines) if " r  rec" in line)
    return lines[first:]


async def test_the_smallest_usual_screen_names_every_key_of_the_work(drawn: Drawn) -> None:
    async with running(CannedSession([caution()], can_pause=True)) as (app, _):
        lines = foot(drawn(app))
        assert len(lines) == 2
        for key in ("enter  ", "r  recover", "o  ", "c  cond", "+  ", "q  quit"):
            assert key in " ".join(lines), key


async def test_a_long_answer_takes_no_line_from_the_values(drawn: Drawn) -> None:
    shot = replace(simulated(), tellable=(AIRFLOW,), next_mark=LOOKED)
    async with running(CannedSession([shot], can_pause=True)) as (app, _):
        lines = foot(drawn(app))
        assert len(lines) == 2
        assert "enter  " in lines[0]
        assert "o  " in " ".join(lines)


async def test_labels_are_whole_where_there_is_a_second_line_for_them(drawn: Drawn) -> None:
    session = CannedSession([replace(add(), tellable=(AIRFLOW,))])
    async with running(session, size=(100, 30)) as (app, _):
        lines = foot(drawn(app))
        assert len(lines) == 2
        for key in ("a  step begins", "r  recovered", "g  no longer held", "c  conditions"):
            assert key in " ".join(lines), key


async def test_no_key_is_named_that_would_only_say_why_it_does_nothing(drawn: Drawn) -> None:
    quiet, waits = replace(add(), unread=()), caution()
    lost = replace(quiet.facts, hold=replace(quiet.facts.hold, held=False))
    for shot, there, not_there in (
        (quiet, ("a", "g"), ("e", "f")),
        (step_open(), ("e", "g"), ("a", "f")),
        (waits, ("enter", "g"), ("a", "e", "f")),
        (replace(quiet, facts=lost), ("a", "f"), ("e", "g")),
    ):
        async with running(CannedSession([shot]), size=(100, 30)) as (app, _):
            keys = " ".join(foot(drawn(app)) if "enter" not in there else drawn(app)[-2:])
            for key in there:
                assert f" {key}  " in keys, (key, keys)
            for key in not_there:
                assert f" {key}  " not in keys, (key, keys)


async def test_the_end_is_told_and_no_key_stays_that_does_nothing(drawn: Drawn) -> None:
    session = CannedSession([caution()], can_pause=True, record_path="job.session")
    async with running(session) as (app, _):
        await session.stop(Outcome.COMPLETE)
        lines = await shows(
            app, drawn, "The session has ended; the record is job.session. q leaves."
        )
        [keys] = [line for line in lines if "quit" in line]
        assert " ".join(keys.split()) == "c conditions s stages w why u units ? help q quit"
        assert "The session has ended; the last instruction was" in text(lines)


@pytest.mark.parametrize("hazard", list(Hazard))
async def test_why_a_step_does_not_begin_is_read_whole(hazard: Hazard, drawn: Drawn) -> None:
    shot = replace(caution(), unread=(hazard, Hazard.BURNS, Hazard.PRESSURE))
    async with running(CannedSession([shot], can_pause=True)) as (app, pilot):
        await typed(pilot, "a")
        assert f"First read the caution, then Enter: {hazard.label}." in text(drawn(app))


async def test_after_a_step_its_key_tells_the_amount(drawn: Drawn) -> None:
    """Nothing can end any more; the amount can still be told, or told otherwise than by a scale."""
    base = add()
    *before, last = base.facts.ledger
    steps = (*before, replace(last, mass_kg=None))
    shot = replace(base, facts=replace(base.facts, ledger=steps), unread=())
    async with running(CannedSession([shot]), size=(100, 30)) as (app, _):
        keys = " ".join(foot([*drawn(app)[-2:]]))
    assert f"e  amount of step {last.number}" in keys
    assert "step ends" not in keys
