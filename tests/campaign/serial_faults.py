"""The cable: pulled and put back while others flood, and a device that never ends a line."""

import multiprocessing
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from chargeassist.model.events import BadInput, Reading, SourceBack, SourceLost
from tests.campaign.away import expect_what_was_sent_between, goes_and_comes_back
from tests.campaign.numbered import (
    RADIO,
    Probe,
    Publisher,
    Recorded,
    write_job,
)
from tests.campaign.peers import broker_in
from tests.campaign.tried import Fault, Tried
from tests.peers.program import Program, until

OTHER = RADIO.replace("compressor_current", "suction_temperature").replace('"A"', '"K"')


def _spin(stop: float) -> None:
    while time.monotonic() < stop:
        sum(range(1000))


@contextmanager
def busy_machine(seconds: float) -> Iterator[None]:
    """Keep every processor busy."""
    stop = time.monotonic() + seconds
    spinners = [
        multiprocessing.get_context("spawn").Process(target=_spin, args=(stop,), daemon=True)
        for _ in range(os.cpu_count() or 1)
    ]
    for spinner in spinners:
        spinner.start()
    try:
        yield
    finally:
        for spinner in spinners:
            spinner.kill()
            spinner.join()


def unplugged_under_load(folder: Path, times: int, row: Tried) -> None:
    """Pull the cable and put it back while a broker floods and the processors are busy."""
    path = folder / "a.session"
    with (
        broker_in(folder) as broker,
        Publisher(broker.port, 200.0),
        Probe(folder / "ttyA") as probe,
    ):
        radio = OTHER.format(url=f"mqtt://127.0.0.1:{broker.port}")
        job = write_job(folder, probe.source, radio)
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: path.exists() and len(Recorded(path).numbers) > 5, 20.0)
            with busy_machine(20.0 + 10.0 * times):
                away = goes_and_comes_back(
                    program,
                    row,
                    "cable",
                    times,
                    take=lambda number: probe.unplug(),
                    give_back=probe.plug_in,
                )
                time.sleep(1.5)
                ended_at = time.monotonic()
                row.expect(program.interrupt() == 130, f"end: {program.complaints}")
        row.tell(program.said, "cable lost:")
        row.tell(program.said, "cable is back")
    found = expect_what_was_sent_between(path, row, probe.sent, away, ended_at)
    for lost, back in zip(
        [e.t for e in found.all(SourceLost) if e.source == "cable"],
        [e.t for e in found.all(SourceBack) if e.source == "cable"],
        strict=True,
    ):
        others = sum(
            lost < e.t < back for e in found.all(Reading) if e.channel == "suction_temperature"
        )
        row.expect(others > 10, "the other source was not heard meanwhile")
    row.lost += " of what the cable carried"


def never_ends_a_line(folder: Path, times: int, row: Tried) -> None:
    """Send for ever without a line end, from the first byte on, as fast as the port takes it."""
    path = folder / "a.session"
    stop = threading.Event()
    sent = [0]
    # A probe that is only a port: it sends nothing by itself.
    probe = Probe(folder / "ttyA")
    probe.plug_in()

    def babble() -> None:
        while not stop.is_set():
            with suppress(OSError):
                taken = probe.put(bytes(4096).replace(b"\0", b"7"))
                sent[0] += taken
                if not taken:
                    time.sleep(0.002)

    thread = threading.Thread(target=babble, daemon=True)
    try:
        job = write_job(folder, probe.source)
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            thread.start()
            row.expect(program.wait_for("no line end", within_s=15.0), "nobody was told")
            time.sleep(1.0)
            before = program.memory_mib
            time.sleep(2.0 + times)
            grown = program.memory_mib - before
            stop.set()
            thread.join()
            time.sleep(0.3)
            probe.put(b"\r\n0.0001,339.0\r\n0.0002,339.0\r\n")
            row.expect(
                until(lambda: 2 in Recorded(path).numbers, 10.0), "does not read on after that"
            )
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
    finally:
        stop.set()
        probe.unplug()
    row.tell(program.said, "no line end")
    row.expect(grown < 10.0, f"memory grew by {grown:.1f} MiB")
    found = Recorded(path)
    row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
    lines = len(found.all(BadInput))
    row.expect(lines < 20 * (5 + times), f"{lines} entries about it in the record")
    row.lost = f"nothing; {sent[0] / 2**20:.0f} MiB of it, memory {grown:+.1f} MiB"


FAULTS = (
    Fault("cable pulled and put back under load", unplugged_under_load, full=5),
    Fault("serial stream without a line end", never_ends_a_line, full=30),
)
