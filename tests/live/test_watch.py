"""A session told through a real broker and watched by another process."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from queue import Queue
from threading import Thread

from tests.peers.broker import Broker

PROGRAM = [sys.executable, "-m", "chargeassist"]
WITHIN_S = 90.0


def begin(*words: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [*PROGRAM, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )


def test_a_session_is_watched_elsewhere_and_a_dead_broker_does_not_end_it(
    broker: Broker, tmp_path: Path
) -> None:
    address = f"mqtt://127.0.0.1:{broker.port}/reading-room"
    early = begin("watch", address, "--json")
    session = begin(
        *("demo", "--lines", "--speed", "100", "--record", str(tmp_path), "--publish", address)
    )
    heard: Queue[str] = Queue()
    assert early.stdout is not None
    lines = early.stdout

    def listen() -> None:
        for line in lines:
            heard.put(line)

    Thread(target=listen, daemon=True).start()
    first = json.loads(heard.get(timeout=WITHIN_S))
    assert first["subject"] in {"values", "verdicts"}
    until_values = first
    while until_values["subject"] != "values":
        until_values = json.loads(heard.get(timeout=WITHIN_S))
    assert until_values["told"]["values"]["liquid_pressure"][1] == "Pa"
    broker.stop()
    time.sleep(1.0)
    assert session.poll() is None, "the session goes on without its board"
    broker.start()
    late = begin("watch", address)
    out, err = session.communicate(timeout=WITHIN_S)
    assert session.returncode == 0, err
    assert "end: complete" in out
    said, told = late.communicate(timeout=WITHIN_S)
    assert late.returncode == 0
    assert "Stop" in said, "the kept verdict reaches who comes late"
    assert "the session has ended" in said
    assert "listening to" in told
    early.communicate(timeout=WITHIN_S)
    assert early.returncode == 0, "it came back after the broker did, and saw the end"


def test_no_broker_costs_the_session_no_more_than_its_farewell(tmp_path: Path) -> None:
    session = begin(
        *("demo", "--lines", "--speed", "max", "--record", str(tmp_path)),
        *("--publish", "mqtt://127.0.0.1:9/nowhere"),
    )
    out, err = session.communicate(timeout=WITHIN_S)
    assert session.returncode == 0, err
    assert "end: complete" in out
