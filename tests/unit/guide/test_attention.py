"""When the guide looks at a running unit: once a bin, and at once where something happens."""

from dataclasses import replace

import pytest

from chargeassist.guide.attention import LOOK_EVERY_S
from chargeassist.model.events import Action, MarkKind
from chargeassist.model.job import Guards
from tests.unit.guide import room as the_room
from tests.unit.guide.room import JOB, LIQUID_PA, Room, judged


def looks(room: Room, seconds: int) -> list[float]:
    """Return the times of the next looks, for so long."""
    return sorted({room.run(1).advice.t for _ in range(seconds)})


def test_a_quiet_unit_is_looked_at_once_a_bin() -> None:
    room = Room()
    room.until(judged)
    begun = room.snapshot.advice.t
    times = looks(room, 24)
    assert times[-1] - begun == pytest.approx(24.0, abs=LOOK_EVERY_S)
    gaps = [b - a for a, b in zip([begun, *times], times, strict=False) if b > a]
    # The pattern of the probes is ranked in between, and that is looked at when it is.
    assert all(0.0 < gap <= LOOK_EVERY_S for gap in gaps)
    assert gaps.count(LOOK_EVERY_S) >= 4


def test_the_picture_has_the_facts_of_every_tick() -> None:
    room = Room()
    room.until(judged)
    assert [room.run(1).facts.t for _ in range(6)] == [room.t - 5.0 + k for k in range(6)]


@pytest.mark.parametrize("offset", range(4))
def test_a_limit_that_is_passed_is_said_at_the_next_tick(
    offset: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    limit_pa = LIQUID_PA + 1e5
    guards = Guards(liquid_pressure_high_pa_gauge=limit_pa, source="invented plate")
    room = Room(replace(JOB, guards=guards))
    room.until(judged)
    room.run(offset)
    assert room.snapshot.advice.action is Action.ADD
    monkeypatch.setattr(the_room, "LIQUID_PA", limit_pa + 5e4)
    room.run(1)  # a tick takes what came before it
    assert room.run(1).advice.cause == "liquid_pressure_high"
    monkeypatch.setattr(the_room, "LIQUID_PA", limit_pa + 9e4)
    room.run(1)
    assert room.run(1).advice.figures["value_pa"] == limit_pa + 9e4
    monkeypatch.setattr(the_room, "LIQUID_PA", LIQUID_PA)
    room.run(1)
    assert room.run(1).advice.cause != "liquid_pressure_high"


@pytest.mark.parametrize("offset", range(4))
def test_an_open_step_is_followed_at_every_tick(offset: int) -> None:
    room = Room()
    room.until(judged)
    room.run(offset)
    room.mark(MarkKind.STEP_BEGUN)
    for _ in range(6):
        assert room.run(1).advice.cause == "step_open"
        assert room.snapshot.advice.t == room.t
    room.mark(MarkKind.STEP_ENDED, 0.02)
    assert room.run(1).advice.action is Action.WAIT


@pytest.mark.parametrize("offset", range(4))
def test_what_is_told_has_the_next_tick_looked_at(offset: int) -> None:
    room = Room()
    room.until(judged)
    room.run(offset)
    room.mark(MarkKind.NOTE)
    assert room.run(1).advice.t == room.t


@pytest.mark.parametrize("offset", range(4))
def test_a_reading_that_stays_away_is_missed_at_once(offset: int) -> None:
    room = Room()
    room.until(judged)
    room.run(offset)
    room.assistant.advance(room.t + 60.0)
    snapshot = room.snapshot
    assert snapshot.advice.cause == "no_signal"
    assert snapshot.t - snapshot.advice.t < LOOK_EVERY_S
