"""A session told through a real broker and watched by another process."""

import json
from pathlib import Path
from typing import Any

from tests.peers.broker import Broker
from tests.peers.program import Program, until

WITHIN_S = 90.0
# Fast, and yet there for the five seconds that a broker is away.
PACE = "60"


def packs(watcher: Program, subject: str) -> list[Any]:
    """Return the packs of a subject that the watcher has printed so far."""
    return [pack for pack in map(json.loads, watcher.said) if pack["subject"] == subject]


def test_a_session_is_watched_elsewhere_and_a_dead_broker_does_not_end_it(
    broker: Broker, tmp_path: Path
) -> None:
    address = f"mqtt://127.0.0.1:{broker.port}/reading-room"
    demo = ("demo", "--lines", "--speed", PACE, "--record", tmp_path, "--publish", address)
    with Program("watch", address, "--json") as early, Program(*demo) as session:
        assert until(lambda: packs(early, "values"), WITHIN_S), early.everything
        assert packs(early, "values")[0]["told"]["values"]["liquid_pressure/gauge"][1] == "Pa"
        broker.stop()
        lines = len(session.said)
        assert until(lambda: len(session.said) > lines, WITHIN_S), "it does not go on alone"
        assert session.process.poll() is None
        broker.start()
        heard = len(packs(early, "values"))
        assert until(lambda: len(packs(early, "values")) > heard, WITHIN_S), "it came back"
        with Program("watch", address) as late:
            assert session.ended(WITHIN_S) == 0, session.everything
            assert session.count("end: complete")
            assert late.ended(WITHIN_S) == 0, late.everything
        assert late.count("Stop"), "the kept verdict reaches who comes late"
        assert late.count("the session has ended")
        assert any("listening to" in line for line in late.complaints)
        assert early.ended(WITHIN_S) == 0, "it saw the end"


def test_no_broker_costs_the_session_no_more_than_its_farewell(tmp_path: Path) -> None:
    board = "mqtt://127.0.0.1:9/nowhere"
    words = ("demo", "--lines", "--speed", "max", "--record", tmp_path, "--publish", board)
    with Program(*words) as session:
        assert session.ended(WITHIN_S) == 0, session.everything
    assert session.count("end: complete")
    assert session.count("nobody elsewhere is told: mqtt://127.0.0.1:9: connection refused") == 1


def test_a_broker_that_refuses_the_account_is_told_and_not_hammered(
    guarded: Broker, tmp_path: Path
) -> None:
    board = f"mqtt://127.0.0.1:{guarded.port}/reading-room"
    demo = ("demo", "--lines", "--speed", PACE, "--record", tmp_path, "--publish", board)
    with Program(*demo) as session:
        assert session.wait_for("nobody elsewhere is told", "refuses the user name or password")
        assert session.ended(WITHIN_S) == 0, session.everything
    # One is asyncio's, that tries the way; both belong to one try in thirty seconds.
    assert guarded.log.count("New connection") <= 4
