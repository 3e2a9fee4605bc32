"""The program dies, or two of it want the same file."""

import random
import signal
from pathlib import Path

from chargeassist.model.events import Reading, SessionResumed
from chargeassist.session.record.store import SessionReader
from tests.campaign.numbered import Probe, Recorded, lost_words, oldest_loss_s, too_much, write_job
from tests.campaign.shim import Shim
from tests.campaign.tried import Fault, Tried
from tests.peers.program import Program, until

LIVES_OF_A_SESSION = 10
WRITES = (1, 260)
WRITES_OF_A_RUNNING_SESSION = (80, 180)


def killed_at_writes(folder: Path, times: int, row: Tried) -> None:
    """Kill the program in the middle of a write to its record, at random, again and again."""
    chance = random.Random(7)
    losses: list[float] = []
    found_before: list[int] = []
    path = folder
    writes = WRITES if times > LIVES_OF_A_SESSION else WRITES_OF_A_RUNNING_SESSION
    with Probe(folder / "ttyA", per_second=200.0) as probe:
        job = write_job(folder, probe.source)
        for number in range(times):
            place = folder / f"records{number // LIVES_OF_A_SESSION}"
            if number % LIVES_OF_A_SESSION == 0:
                found_before = []
                place.mkdir()
            path = place / "a.session"
            shim = Shim(place, folder, kill_at=chance.randint(*writes))
            more: list[str | Path] = (
                ["--resume", path] if path.exists() else [job, "--record", path]
            )
            with Program("live", "--lines", *more, environment=shim.environment) as program:
                until(lambda: program.process.poll() is not None, 60.0)
                struck_at = _last_sent(probe)
                code = program.ended()
            row.expect(code == -signal.SIGKILL, f"kill {number}: ended with {code}")
            row.expect(not program.crashed, f"kill {number}: {program.complaints[-1:]}")
            if not path.exists():
                continue
            found = Recorded(path)
            row.expect(found.report.ok, f"kill {number}: {found.report.problems}")
            row.expect(
                found.numbers[: len(found_before)] == found_before,
                f"kill {number}: what was on disk is not there any more",
            )
            new = found.numbers[len(found_before) :]
            found_before = found.numbers
            if new:
                losses.append(oldest_loss_s(probe.sent, new, struck_at))
                row.expect(not too_much(losses[-1]), f"kill {number}: lost {losses[-1]:.2f} s")
        with Program("live", "--lines", "--resume", path) as program:
            row.expect(program.wait_for("session resumed"), "the last one does not go on")
            program.interrupt()
        row.tell(program.said, "session resumed")
    found = Recorded(path)
    row.expect(found.report.finished, "the last one has no end")
    stamps = [event.t for event in found.events if isinstance(event, Reading | SessionResumed)]
    row.expect(stamps == sorted(stamps), "time went back")
    left = sorted(each.name for each in path.parent.glob("a.session*"))
    row.expect(left == ["a.session"], f"more than one file is left: {left}")
    with Program("replay", "--check", "--speed", "max", path) as check:
        code = check.ended(120.0)
    row.expect(code == 0, f"replays to other verdicts: {check.everything[-3:]}")
    row.expect(len(losses) >= times // 2, f"only {len(losses)} kills hit a running session")
    row.lost = lost_words(losses)


def _last_sent(probe: Probe) -> float:
    return max(probe.sent.values(), default=0.0)


def two_on_one_file(folder: Path, times: int, row: Tried) -> None:
    """Start a second program on the file of a running one."""
    with Probe(folder / "ttyA") as probe:
        job, path = write_job(folder, probe.source), folder / "a.session"
        with Program("live", "--lines", job, "--record", path) as first:
            row.expect(first.begun(), f"did not begin: {first.complaints}")
            until(lambda: probe.sent and SessionReader(path).commits > 2, 10.0)
            for way, file in [("--resume", path), (str(job), path)][: min(2, times)]:
                more: list[str | Path] = [way, *([] if way == "--resume" else ["--record"]), file]
                with Program("live", "--lines", *more) as second:
                    code = second.ended(STARTS_WITHIN_S)
                row.expect(code == 2, f"the second one ended with {code}")
                row.expect(not second.crashed, "the second one crashed")
                row.tell(second.complaints, "a.session:")
            begun = oldest_loss_s(probe.sent, Recorded(path).numbers, _last_sent(probe))
            row.expect(not too_much(begun), "the first one lost readings")
            row.expect(first.interrupt() == 130, "the first one does not end")
        found = Recorded(path)
        row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")


def lock_of_the_dead(folder: Path, times: int, row: Tried) -> None:
    """Kill the program: its lock file stays, and must hold nobody up."""
    with Probe(folder / "ttyA") as probe:
        job, path = write_job(folder, probe.source), folder / "a.session"
        with Program("live", "--lines", job, "--record", path) as first:
            row.expect(first.begun(), f"did not begin: {first.complaints}")
            until(lambda: SessionReader(path).commits > 2, 10.0)
            struck_at = first.kill()
        row.expect(path.with_name("a.session.lock").exists(), "no lock file was left behind")
        loss_s = oldest_loss_s(probe.sent, Recorded(path).numbers, struck_at)
        row.expect(not too_much(loss_s), f"lost {loss_s:.2f} s")
        row.lost = lost_words([loss_s])
        with Program("live", "--lines", "--resume", path) as second:
            row.expect(second.wait_for("session resumed"), f"held up: {second.complaints}")
            row.expect(second.interrupt() == 130, "does not end")
        row.tell(second.said, "session resumed")
        found = Recorded(path)
        row.expect(found.report.ok and found.report.finished, f"{found.report.problems}")
        row.expect(len(found.all(SessionResumed)) == 1, "the interruption is not recorded")
        row.expect(not path.with_name("a.session.lock").exists(), "the lock file stays")


STARTS_WITHIN_S = 30.0

FAULTS = (
    Fault("kill -9 in the middle of a write", killed_at_writes, short=4, full=100),
    Fault("two programs, one session file", two_on_one_file, full=3),
    Fault("lock file of a dead program", lock_of_the_dead, full=3),
)
