"""Every command of the README, run as a shell runs it.

Stand-ins: a pseudo-terminal for the probe's port, a broker of our own, files of the names the
README uses. A block's lines run one after the other in one folder, since they build on each other.
"""

import argparse
import asyncio
import contextlib
import os
import re
import shlex
import shutil
import signal
import sys
from dataclasses import dataclass
from pathlib import Path

import aiomqtt
import pytest

from chargeassist.cli.command_line import build_parser
from chargeassist.session.job.demo import demo_job
from chargeassist.session.job.questions import next_question
from chargeassist.session.opening import open_new
from chargeassist.session.pilot import Pilot
from tests.peers.broker import Broker, answers, free_port
from tests.peers.line import Line, serve_registers
from tests.peers.meanwhile import meanwhile

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
WITHIN_S = 180.0

NOT_RUN = {
    "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/chargeassist demo": (
        "installs from the network; .ci/run makes a fresh environment"
    ),
    "python3 -m venv .venv && .venv/bin/pip install -e '.[dev]' && .venv/bin/python -m pytest -n "
    "3": "installs from the network and is this very run; .ci/run does it",
    "CFLAGS=-ffp-contract=off HATCH_BUILD_HOOKS_ENABLE=1 HATCH_BUILD_CLEAN_HOOKS_AFTER=1 pip "
    "install .": "compiles for minutes; tests/benchmarks/compiled.py does it",
}


@dataclass(frozen=True)
class Way:
    """How a line of the README is run.

    Attributes
    ----------
    code : int
        The exit code it must have.
    until : str
        It goes on until stopped: Ctrl-C as soon as it has printed this, and where a group of it is
        a port, as soon as that answers.
    more : str
        Put behind it.
    sends : bytes
        What the probe's port delivers meanwhile.
    """

    code: int = 0
    until: str = ""
    more: str = ""
    sends: bytes = b""


STOPPED = 130
SERVES = r"dashboard: http://[^:]+:(\d+)/"
WAYS = {
    "chargeassist live simulator:clean-charge --speed 10": Way(STOPPED, until="Wait|Fix first"),
    "chargeassist live simulator:mine.toml --speed 10": Way(STOPPED, until="Wait|Fix first"),
    "chargeassist replay tour.session --speed 20": Way(STOPPED, until="Fix first"),
    "chargeassist replay FILE.session --speed 20": Way(STOPPED, until="Fix first"),
    # What is left out in my-job.toml, and the circuit stages of the README's job, are told.
    "chargeassist job check my-job.toml": Way(1),
    "chargeassist job check job.toml": Way(1),
    'chargeassist probes "serial:/dev/ttyUSB0?baud=9600" --unit psig': Way(
        more="--seconds 2", sends=b"248.1\r\n"
    ),
    'chargeassist probes "modbus:/dev/ttyUSB0?baud=9600&frame=8N1" --unit psig --select '
    "1/input:0:int16 --scale 0.1": Way(more="--seconds 3"),
    "chargeassist probes job.toml": Way(more="--seconds 3", sends=b"248.1,121.4\r\n"),
    "chargeassist live job.toml": Way(STOPPED, until="Wait|Fix first", sends=b"248.1,121.4\r\n"),
    "chargeassist live job.toml --publish mqtt://localhost/reading-room": Way(
        STOPPED, until="Wait|Fix first", sends=b"248.1,121.4\r\n"
    ),
    "chargeassist watch mqtt://localhost/reading-room": Way(STOPPED, until="."),
    "chargeassist serve live job.toml": Way(STOPPED, until=SERVES),
    "chargeassist serve --host 0.0.0.0 live job.toml": Way(STOPPED, until=SERVES),
    # Simulated sessions in the place of real ones: one of the rules says so.
    "chargeassist audit archives/ --format csv --out audit.csv": Way(1),
    # No call comes from an empty pipe, so it can go as fast as it likes.
    "chargeassist drill dirty-condenser --speed 10": Way(more="--speed max"),
    "chargeassist drill mine.toml --speed 10": Way(more="--speed max"),
    # The probe agrees, but the uncertainty does not let it be told for certain.
    'chargeassist standing R-32 200psig 68°F --rested "5 h"': Way(1),
}


def blocks(language: str) -> list[str]:
    """Return the README's fenced blocks of a language."""
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def commands(block: str) -> list[str]:
    """Return the commands of a block, without comments and extra blanks."""
    lines = []
    for line in block.splitlines():
        bare = re.sub(r"\s+#\s.*$", "", line).strip()
        if bare:
            lines.append(bare)
    return lines


BLOCKS = [commands(block) for block in blocks("sh")]
RUN = [block for block in BLOCKS if not set(block) <= NOT_RUN.keys()]


def test_what_is_said_of_a_command_is_said_of_one_that_stands_there() -> None:
    there = {line for block in BLOCKS for line in block}
    assert not (WAYS.keys() | NOT_RUN.keys()) - there


ANSWERS = {
    "name": "Weir Cottage, kitchen (invented)",
    "refrigerant": "R-32",
    "site.altitude": "690 ft",
    "target.method": "subcooling",
    "target.subcooling": "9 °F",
    "target.source": "charging label",
    "target.tolerance": "2 °F",
    "charge.plate": "5 lb 1 oz",
    "charge.step_cap": "4 oz",
    "source.1.adapter": "serial",
    "source.1.url": "serial:/dev/ttyUSB0?baud=9600",
    "source.1.format": "csv",
    "source.1.liquid_pressure.unit": "psig",
    "source.1.liquid_pressure.select": "1",
    "source.1.liquid_temperature.unit": "°C",
    "source.1.liquid_temperature.select": "2",
}


def typed() -> str:
    """Return the answers ``job new`` asks for, one a line."""
    given: dict[str, str] = {}
    lines = []
    while (question := next_question(given)) is not None:
        lines.append(ANSWERS.get(question.key, ""))
        given[question.key] = lines[-1] or question.default
    return "".join(f"{line}\n" for line in lines)


MAP = """
job = "job.toml"
zone = "+02:00"

[time]
column = "Time"

[[probe]]
role = "liquid_pressure"
select = "P liquid"
unit = "psig"
accuracy = "1 psi"

[[probe]]
role = "liquid_temperature"
select = "T liquid"
"""
LOG = "Time,P liquid [psig],T liquid [°C]\n" + "".join(
    f"2026-07-01T08:00:{second:02},248.1,31.5\n" for second in range(60)
)


@pytest.fixture(scope="module")
def session_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A whole session of the demonstration."""
    path = tmp_path_factory.mktemp("played") / "FILE.session"
    opened = open_new(demo_job("library"), ROOT, record=path, speed=None, attendant=Pilot())
    asyncio.run(opened.session.run(lambda snapshot: None))
    return path


@pytest.fixture
def folder(tmp_path: Path, session_file: Path) -> Path:
    """What the README's commands find where they are run."""
    (tmp_path / "recordings").symlink_to(ROOT / "recordings")
    (tmp_path / "FILE.session").write_bytes(session_file.read_bytes())
    archives = tmp_path / "archives"
    archives.mkdir()
    shutil.copytree(ROOT / "recordings" / "millrace-lane-library", archives / "millrace")
    (tmp_path / "LOG.csv").write_text(LOG, encoding="utf-8")
    (tmp_path / "map.toml").write_text(MAP, encoding="utf-8")
    (tmp_path / "calls.txt").write_text("+3 min settled\n+5 s add 100 g\n", encoding="utf-8")
    (tmp_path / ".local/share/bash-completion/completions").mkdir(parents=True)
    return tmp_path


async def publish(port: int) -> None:
    """Be the README's clamps and amp probe."""
    async with aiomqtt.Client("127.0.0.1", port) as client:
        while True:
            await client.publish("job/clamps", '{"liquid": {"t": 31.2}, "suction": {"t": 12.4}}')
            await client.publish("job/amps", '{"a": 9.9}')
            await asyncio.sleep(0.3)


async def feed(line: Line, data: bytes) -> None:
    """Be the README's pressure probes."""
    while True:
        line.send(data)
        await asyncio.sleep(0.2)


async def run(command: str, way: Way, folder: Path) -> tuple[int, str]:
    """Return exit code and output of a command; one that goes on is stopped by Ctrl-C."""
    environment = {
        **os.environ,
        "HOME": str(folder),
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
    }
    for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        environment.pop(name, None)
    running = await asyncio.create_subprocess_exec(
        *("bash", "-c", f"exec {command} {way.more}"),
        cwd=folder,
        env=environment,
        stdin=asyncio.subprocess.PIPE if "job new" in command else asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.STDOUT,
    )
    try:
        async with asyncio.timeout(WITHIN_S):
            told = b""
            if way.until:
                assert running.stdout is not None
                while not (shown := re.search(way.until, told.decode(errors="replace"))):
                    line = await running.stdout.readline()
                    assert line, f"ended before {way.until!r}: {told.decode(errors='replace')}"
                    told += line
                if shown.groups():
                    while not answers(int(shown[1])):  # noqa: ASYNC110  another process listens
                        await asyncio.sleep(0.1)
                running.send_signal(signal.SIGINT)
            out, _ = await running.communicate(typed().encode() if "job new" in command else None)
    finally:
        if running.returncode is None:
            running.kill()
            await running.communicate()
    assert running.returncode is not None
    return running.returncode, (told + out).decode(errors="replace")


@pytest.mark.parametrize("block", RUN, ids=lambda block: " ".join(block[0].split()[1:4]))
async def test_the_commands_of_a_block_do_what_they_are_said_to(
    block: list[str],
    folder: Path,
    wire: Line,
    broker: Broker,
) -> None:
    stand_ins = {
        "/dev/ttyUSB0": str(wire.near),
        "localhost:1883": f"127.0.0.1:{broker.port}",
        "mqtt://localhost/": f"mqtt://127.0.0.1:{broker.port}/",
        "serve ": f"serve --port {free_port()} ",
    }

    def put(text: str) -> str:
        for name, stand_in in stand_ins.items():
            text = text.replace(name, stand_in)
        return text

    (folder / "job.toml").write_text(put(blocks("toml")[0]), encoding="utf-8")
    for command in block:
        way = WAYS.get(command, Way())
        async with contextlib.AsyncExitStack() as around:
            if "job.toml" in command:
                await around.enter_async_context(meanwhile(publish(broker.port)))
            if way.sends:
                await around.enter_async_context(meanwhile(feed(wire, way.sends)))
            if "modbus:" in command:
                devices = {1: {"input": {0: [2481]}}}
                await around.enter_async_context(serve_registers(wire.far, devices))
            code, told = await run(put(command), way, folder)
        assert code == way.code, f"{command}\n{told}"


def inline() -> list[str]:
    """Return what the README's text names as a command, where it names no placeholder."""
    text = re.sub(r"^```.*?^```$", "", README, flags=re.MULTILINE | re.DOTALL)
    spans = [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", text)]
    return sorted({span for span in spans if span.startswith("chargeassist ")})


@pytest.mark.parametrize("command", inline())
def test_a_command_named_in_the_text_is_taken(command: str) -> None:
    words = shlex.split(command)[1:]
    if "COMMAND" in words:
        words[words.index("COMMAND")] = "live"
    with contextlib.suppress(SystemExit):  # --help
        parsed = build_parser().parse_args(words)
        assert isinstance(parsed, argparse.Namespace)
