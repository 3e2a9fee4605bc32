"""A real Dask scheduler and two worker processes, one of which is killed on the way."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from tests.peers.broker import free_port

RECORDINGS = Path(__file__).resolve().parents[2] / "recordings"
COPIES = 8
COMMAND = (sys.executable, "-m", "chargeassist", "fleet", "recompute")


def wait_for(found: object, within_s: float = 60.0) -> None:
    deadline = time.monotonic() + within_s
    while not found():  # type: ignore[operator]
        assert time.monotonic() < deadline, "nothing came"
        time.sleep(0.05)


class Cluster:
    def __init__(self, folder: Path) -> None:
        self.file = folder / "scheduler.json"
        self.workers: list[subprocess.Popen[bytes]] = []
        self._scheduler = self._start(
            "dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
            "--scheduler-file", str(self.file),
        )  # fmt: skip
        wait_for(self.file.exists)
        self.address = json.loads(self.file.read_text(encoding="utf-8"))["address"]

    def _start(self, module: str, *words: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.{module}", *words],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def add_worker(self) -> None:
        self.workers.append(
            self._start(
                "dask_worker", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
                "--local-directory", str(self.file.parent / f"worker-{len(self.workers)}"),
            )
        )  # fmt: skip

    def close(self) -> None:
        for process in (*self.workers, self._scheduler):
            process.kill()
            process.wait()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    pytest.importorskip("distributed")
    running = Cluster(tmp_path)
    try:
        running.add_worker()
        running.add_worker()
        yield running
    finally:
        running.close()


@pytest.mark.skipif(os.name == "nt", reason="kills a process by signal")
def test_a_lost_worker_costs_only_its_unfinished_sessions(tmp_path: Path, cluster: Cluster) -> None:
    folder = tmp_path / "fleet"
    folder.mkdir()
    for number in range(COPIES):
        name = "millrace-lane-library" if number % 2 else "quarry-road-bakery"
        shutil.copytree(RECORDINGS / name, folder / f"{number}")
    (folder / "bad.zip").write_bytes(b"junk")
    places = [str(folder / f"{n}") for n in range(COPIES)] + [str(folder / "bad.zip")]

    local = tmp_path / "local.jsonl"
    assert main(["fleet", "recompute", *places, "--to", str(local), "--cores", "1"]) == 1

    results = tmp_path / "results.jsonl"
    partial = tmp_path / "results.jsonl.partial"
    run = subprocess.Popen(
        [*COMMAND, *places, "--to", str(results), "--scheduler", cluster.address],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    # Once something is done, and much is not, a worker dies without a word.
    wait_for(lambda: partial.exists() and partial.read_bytes().count(b"\n") >= 2)
    cluster.workers[0].send_signal(signal.SIGKILL)
    done_then = partial.read_bytes().count(b"\n") if partial.exists() else COPIES + 1
    out, err = run.communicate(timeout=120)
    assert run.returncode == 1, err.decode()
    assert "1 could not be read" in out.decode()
    assert done_then < COPIES + 1, "it was over before the worker was killed"
    assert results.read_bytes() == local.read_bytes(), "bit for bit"


def test_an_address_that_is_none_of_a_scheduler_is_said_at_once(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    done = subprocess.run(
        [
            *(*COMMAND, str(RECORDINGS)),
            *("--to", str(tmp_path / "r.jsonl"), "--scheduler", "junk://nowhere"),
        ],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2, done.stderr
    (line,) = done.stderr.splitlines()
    assert line.startswith("chargeassist: junk://nowhere: no Dask scheduler answers")
    assert line.endswith("expected tcp://HOST:8786")


def test_a_scheduler_that_is_not_there_is_waited_for_a_while_and_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("chargeassist.qa.fleet_recompute.CONNECT_WITHIN", "1s")
    nobody = f"tcp://127.0.0.1:{free_port()}"
    words = ["fleet", "recompute", str(RECORDINGS), "--to", str(tmp_path / "r.jsonl")]
    assert main([*words, "--scheduler", nobody]) == 2
    assert f"{nobody}: no Dask scheduler answers (Timed out" in capsys.readouterr().err
