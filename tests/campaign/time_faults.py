"""Time: the wall clock is set, the machine sleeps, the program is stopped for a while."""

import datetime as dt
import signal
import time
from pathlib import Path

from chargeassist.model.events import ClockSet, Gap, ProgramHeld, Reading, SessionResumed
from tests.campaign.numbered import Probe, Recorded, lost_words, oldest_loss_s, too_much, write_job
from tests.campaign.shim import Shim
from tests.campaign.tried import Fault, Tried
from tests.peers.program import Program, until

HOUR_S = 3600.0
SLEPT_S = 600.0
STOPPED_S = 6.0


def clock_is_set(folder: Path, times: int, row: Tried) -> None:
    """Set the wall clock an hour ahead, then back; kill the program and go on."""
    records, aside = folder / "records", folder / "aside"
    records.mkdir()
    aside.mkdir()
    shim = Shim(records, aside)
    path = records / "a.session"
    with Probe(folder / "ttyA") as probe:
        job = write_job(folder, probe.source)
        with Program(
            "live", "--lines", job, "--record", path, environment=shim.environment
        ) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: path.exists() and len(Recorded(path).numbers) > 5, 20.0)
            settings = (HOUR_S, 0.0, -HOUR_S, 0.0) if times > 1 else (HOUR_S, 0.0)
            for ahead_s in (*settings * times, HOUR_S):
                known = program.count("clock was set")
                shim.set_wall_clock(ahead_s)
                row.expect(
                    program.says_again("clock was set", known, 10.0),
                    f"nobody was told of {ahead_s:+.0f} s",
                )
            time.sleep(1.0)
            struck_at = program.kill()
        row.tell(program.said, "clock was set forward by 60 min")
        row.tell(program.said, "clock was set back by 60 min")
        with Program("live", "--lines", "--resume", path, environment=shim.environment) as program:
            row.expect(program.wait_for("session resumed"), f"{program.complaints}")
            time.sleep(1.0)
            ended_at = time.monotonic()
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
    found = Recorded(path)
    row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
    steps = [event.step_s for event in found.all(ClockSet)]
    wanted = [*([HOUR_S, -HOUR_S, -HOUR_S, HOUR_S][: len(settings)] * times), HOUR_S]
    row.expect(
        len(steps) == len(wanted)
        and all(abs(s - w) < 1.0 for s, w in zip(steps, wanted, strict=True)),
        f"recorded steps {steps}",
    )
    stamps = [event.t for event in found.all(Reading)]
    row.expect(stamps == sorted(stamps), "time went back")
    began = min(probe.sent[n] for n in found.numbers if n in probe.sent)
    row.expect(stamps[-1] - stamps[0] < ended_at - began + 5.0, "session time jumped")
    (resumed,) = found.all(SessionResumed)
    row.expect(
        resumed.away_s is not None and resumed.away_s < 60.0,
        f"thought to have been away for {resumed.away_s} s",
    )
    losses = [oldest_loss_s(probe.sent, _until(found, resumed.t), struck_at)]
    row.expect(not too_much(losses[0]), f"lost {losses[0]:.2f} s")
    row.lost = lost_words(losses) + " (by the kill); session time untouched"
    with Program("verify", path) as about:
        about.ended()
    row.tell(about.said, "computer's clock was set by +3600 s")


def _until(found: Recorded, t: float) -> list[int]:
    return [
        round(event.value / 1e-4)
        for event in found.all(Reading)
        if event.channel == "compressor_current" and event.t <= t
    ]


def machine_sleeps(folder: Path, times: int, row: Tried) -> None:
    """Let ten minutes pass that the program did not see, as when a lid is shut."""
    shim = Shim(folder / "none", folder)
    path = folder / "a.session"
    with Probe(folder / "ttyA") as probe:
        job = write_job(folder, probe.source)
        with Program(
            "live", "--lines", job, "--record", path, environment=shim.environment
        ) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: path.exists() and len(Recorded(path).numbers) > 20, 20.0)
            for number in range(times):
                shim.sleep(SLEPT_S)
                row.expect(
                    program.says_again("computer slept", number, 10.0),
                    "nobody was told",
                )
                time.sleep(1.0)
            ended_at = time.monotonic()
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
        row.tell(program.said, "computer slept for 10 min")
    found = Recorded(path)
    row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
    held = found.all(ProgramHeld)
    row.expect(
        len(held) == times and all(e.asleep and abs(e.held_s - SLEPT_S) < 3.0 for e in held),
        f"recorded: {held}",
    )
    row.expect(not found.all(ClockSet), "taken for a clock that was set")
    last_t = max(event.t for event in found.all(Reading))
    row.expect(last_t > times * SLEPT_S, "the sleep is missing from session time")
    let_go = sum(event.dropped for event in found.all(Gap))
    due = [n for n, t in probe.sent.items() if n >= found.numbers[0] and t < ended_at - 1.0]
    missing = len(set(due) - set(found.numbers))
    # The line that was under way is passed over without being counted.
    row.expect(missing <= let_go + times, f"{missing} missing, {let_go} counted")
    row.lost = f"nothing but what waited in the port ({let_go} values, let go and counted)"


def program_is_stopped(folder: Path, times: int, row: Tried) -> None:
    """Stop the process for some seconds: what waited in the port must not pass for new."""
    path = folder / "a.session"
    with Probe(folder / "ttyA") as probe:
        job = write_job(folder, probe.source)
        with Program("live", "--lines", job, "--record", path) as program:
            row.expect(program.begun(), f"did not begin: {program.complaints}")
            until(lambda: path.exists() and len(Recorded(path).numbers) > 20, 20.0)
            begun = Recorded(path)
            start_wall = dt.datetime.fromisoformat(begun.started.started_utc).timestamp()
            offset = time.time() - time.monotonic() - start_wall
            spans = []
            for number in range(times):
                stopped_at = time.monotonic()
                program.process.send_signal(signal.SIGSTOP)
                time.sleep(STOPPED_S)
                program.process.send_signal(signal.SIGCONT)
                spans.append((stopped_at, time.monotonic()))
                row.expect(
                    program.says_again("computer too busy", number, 10.0),
                    "nobody was told",
                )
                time.sleep(1.5)
            ended_at = time.monotonic()
            row.expect(program.interrupt() == 130, f"end: {program.complaints}")
        row.tell(program.said, "computer too busy for")
        row.tell(program.said, "readings of cable were dropped")
    found = Recorded(path)
    row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
    row.expect(len(found.all(ProgramHeld)) == times, f"recorded: {found.all(ProgramHeld)}")
    late = [
        found.stamps[n] - (probe.sent[n] + offset)
        for n in found.numbers
        if n in probe.sent and n in found.stamps
    ]
    row.expect(max(late) < 2.5, f"a reading {max(late):.1f} s old was recorded as new")

    def beside(sent_at: float) -> bool:
        return not any(a - 0.5 < sent_at < b + 0.5 for a, b in spans)

    others = {n: t for n, t in probe.sent.items() if beside(t)}
    losses = [oldest_loss_s(others, found.numbers, ended_at)]
    row.expect(not too_much(losses[0]), f"lost {losses[0]:.2f} s besides")
    let_go = sum(event.dropped for event in found.all(Gap))
    row.lost = f"what waited in the port ({let_go} values, let go and counted)"


FAULTS = (
    Fault("wall clock set by an hour, both ways", clock_is_set, full=3),
    Fault("machine asleep for ten minutes", machine_sleeps, full=3),
    Fault("program stopped for some seconds", program_is_stopped, full=3),
)
