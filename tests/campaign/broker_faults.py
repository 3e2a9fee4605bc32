"""The broker dies, comes back, refuses, is slow, floods, or shows a certificate that is no good."""

import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from chargeassist.model.events import Gap, Reading, SourceBack, SourceLost
from tests.campaign.away import expect_what_was_sent_between, goes_and_comes_back
from tests.campaign.numbered import (
    RADIO,
    STEP_A,
    Probe,
    Publisher,
    Recorded,
    lost_words,
    oldest_loss_s,
    too_much,
    write_job,
)
from tests.campaign.peers import SlowWire, authority_in, broker_in
from tests.campaign.tried import Fault, Tried
from tests.peers.program import Program, until

USUAL_PER_S = 20.0
"""Messages a second of two probes at 10 Hz."""


def _heard(path: Path, more_than: int = 5) -> bool:
    """Return whether readings come to be recorded."""
    return until(lambda: path.exists() and len(Recorded(path).numbers) > more_than, 20.0)


def killed_and_restarted(folder: Path, times: int, row: Tried) -> None:
    """Kill the broker with SIGKILL and start it again, some seconds later."""
    path = folder / "a.session"
    with broker_in(folder) as broker, Publisher(broker.port) as publisher:
        job = write_job(folder, RADIO.format(url=f"mqtt://127.0.0.1:{broker.port}"))
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(_heard(path), f"nothing heard: {program.everything}")
            away = goes_and_comes_back(
                program,
                row,
                "radio",
                times,
                take=lambda number: broker.end(signal.SIGTERM if number % 2 else signal.SIGKILL),
                give_back=broker.start,
            )
            time.sleep(1.5)
            ended_at = time.monotonic()
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
        row.tell(program.said, "radio lost:")
        row.tell(program.said, "radio is back")
    # What a broker that dies had not passed on is nobody's; what it had is in the record.
    expect_what_was_sent_between(path, row, publisher.sent, away, ended_at)
    row.lost += " of what the broker passed on"


def refuses(folder: Path, times: int, row: Tried) -> None:
    """Let the broker refuse the account: told, not hammered, and the session goes on."""
    path = folder / "a.session"
    with broker_in(folder, "allow_anonymous false") as broker, Probe(folder / "ttyA") as probe:
        radio = RADIO.format(url=f"mqtt://127.0.0.1:{broker.port}")
        radio = radio.replace("compressor_current", "liquid_temperature").replace('"A"', '"°C"')
        job = write_job(folder, probe.source, radio)
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.wait_for("radio lost", within_s=20.0), "nobody was told")
            time.sleep(3.0)
            ended_at = time.monotonic()
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
    row.tell(program.said, "refuses the user name or password")
    found = Recorded(path)
    loss_s = oldest_loss_s(probe.sent, found.numbers, ended_at)
    row.expect(not too_much(loss_s), f"the other source lost {loss_s:.2f} s")
    row.expect(len(found.all(SourceLost)) == 1, "told more than once")
    row.lost = "nothing of the other source"


def not_there(folder: Path, times: int, row: Tried) -> None:
    """Name a port where nobody listens, then let a broker appear."""
    path = folder / "a.session"
    broker = broker_in(folder)
    job = write_job(folder, RADIO.format(url=f"mqtt://127.0.0.1:{broker.port}"))
    with Program("live", "--lines", job, "--record", path) as program:
        row.expect(program.wait_for("radio lost", within_s=20.0), "nobody was told")
        with broker, Publisher(broker.port):
            row.expect(program.wait_for("radio is back", within_s=20.0), "not back")
            row.expect(_heard(path), "nothing heard")
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
    row.tell(program.said, "radio lost:", "connection refused")


def slow(folder: Path, times: int, row: Tried) -> None:
    """Put a wire between that carries 64 bytes at a time, late."""
    path = folder / "a.session"
    with (
        broker_in(folder) as broker,
        SlowWire(broker.port, 0.03) as wire,
        Publisher(broker.port) as publisher,
    ):
        job = write_job(folder, RADIO.format(url=f"mqtt://127.0.0.1:{wire.port}"))
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(_heard(path), f"nothing heard: {program.everything}")
            time.sleep(4.0)
            row.expect(program.process.poll() is None, "it ended")
            last = time.monotonic()
            time.sleep(1.5)
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
    found = Recorded(path)
    loss_s = oldest_loss_s(publisher.sent, found.numbers, last)
    row.expect(not too_much(loss_s), f"lost {loss_s:.2f} s")
    row.lost = lost_words([loss_s])


def hangs(folder: Path, times: int, row: Tried) -> None:
    """Stop the broker's process: it holds the connection and says nothing."""
    path = folder / "a.session"
    with broker_in(folder) as broker, Publisher(broker.port):
        job = write_job(folder, RADIO.format(url=f"mqtt://127.0.0.1:{broker.port}?keepalive=2"))
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(_heard(path), f"nothing heard: {program.everything}")
            with broker.hanging():
                row.expect(program.wait_for("radio lost", within_s=20.0), "nobody was told")
            row.expect(program.wait_for("radio is back", within_s=30.0), "not back")
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
    row.tell(program.said, "radio lost:")
    row.lost = "nothing that came"


def floods(folder: Path, times: int, row: Tried) -> None:
    """Let the probes send ten times the usual rate, then as much as goes."""
    path = folder / "a.session"
    with broker_in(folder, "allow_anonymous true\nmax_queued_messages 0") as broker:
        job = write_job(folder, RADIO.format(url=f"mqtt://127.0.0.1:{broker.port}"))
        with Program("live", "--lines", job, "--record", path) as program:
            with Publisher(broker.port, 10 * USUAL_PER_S) as publisher:
                row.expect(_heard(path), f"nothing heard: {program.everything}")
                before = program.memory_mib
                time.sleep(1.0 + times)
                publisher.counter.per_second = 1e5
                time.sleep(1.0 + times)
                publisher.counter.per_second = USUAL_PER_S
                grown = program.memory_mib - before
            # Whatever the broker still holds is passed on before the end.
            last = max(publisher.sent)
            row.expect(until(lambda: _newest(path) >= last, 60.0), "the newest did not come")
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
    found = Recorded(path)
    row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
    first = found.numbers[0]
    owed = [n for n in publisher.sent if first <= n <= last]
    dropped = sum(event.dropped for event in found.all(Gap))
    missing = len(set(owed) - set(found.numbers))
    row.expect(missing <= dropped, f"{missing} of {len(owed)} missing, {dropped} counted")
    row.expect(grown < 40.0, f"memory grew by {grown:.0f} MiB")
    rate = len(owed) / (max(publisher.sent.values()) - publisher.sent[first])
    row.lost = f"{missing} of {len(owed)} ({rate:.0f} a second), {dropped} let go and counted"
    if dropped:
        row.tell(program.said, "readings of radio were dropped")


def _newest(path: Path) -> int:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as database:
        (value,) = database.execute("SELECT max(value) FROM readings").fetchone()
    return round((value or 0.0) / STEP_A)


def bad_certificates(folder: Path, times: int, row: Tried) -> None:
    """Show a certificate that has expired, that is not valid yet, and one for another host."""
    authority = authority_in(folder)
    for name, alternative, days, said in (
        ("expired", "IP:127.0.0.1", ("200101000000Z", "200201000000Z"), "expired"),
        ("early", "IP:127.0.0.1", ("350101000000Z", "350201000000Z"), "not yet valid"),
        ("other", "DNS:elsewhere.example", None, "another host"),
    )[-times:]:
        config = authority.broker_config(authority.server(name, alternative, days))
        path = folder / f"{name}.session"
        with broker_in(folder, config) as broker:
            url = f"mqtts://127.0.0.1:{broker.port}?ca={authority.file}"
            job = write_job(folder, RADIO.format(url=url))
            with Program("live", "--lines", job, "--record", path) as program:
                row.expect(program.wait_for("radio lost", within_s=20.0), "nobody was told")
                row.expect(program.interrupt() == 130, f"end: {program.complaints}")
        row.tell(program.said, "radio lost:", said)
        found = Recorded(path)
        row.expect(not found.all(Reading), "readings came over a wire that was not proven")
        row.expect(not found.all(SourceBack), "it was taken all the same")
    row.lost = "nothing was accepted"


FAULTS = (
    Fault("broker killed and restarted", killed_and_restarted, full=6),
    Fault("broker not there", not_there, full=2),
    Fault("broker refuses the account", refuses),
    Fault("broker behind a slow wire", slow),
    Fault("broker hangs", hangs),
    Fault("broker floods, 10 times the rate and more", floods, short=1, full=10),
    Fault("TLS: expired, early, wrong host", bad_certificates, short=1, full=3),
)
