"""Lines printed from inside an adapter, which takes an error of output for one of its wire."""

import asyncio
import io
from collections.abc import Callable
from pathlib import Path

import pytest

from chargeassist.cli import probes as probes_command
from chargeassist.cli import watch as watch_command
from chargeassist.cli.main import main
from chargeassist.model.job import SourceSpec
from chargeassist.session.source import Clock, Sink


class Gone(io.StringIO):
    """Standard output whose reader has gone."""

    def write(self, text: str) -> int:
        raise BrokenPipeError(32, "Broken pipe")

    def fileno(self) -> int:
        raise OSError("no descriptor")


def nobody_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the reader go; in the test itself, for pytest has a standard output of each phase."""
    monkeypatch.setattr("sys.stdout", Gone())
    monkeypatch.setattr("chargeassist.cli.command_line._let_go_of_output", lambda: None)


class StubbornBoard:
    """Tries again whatever goes wrong with its connection, as an adapter does."""

    async def watch(self, hear: Callable[[str, bytes], None], note: Callable[[str], None]) -> None:
        while True:
            try:
                hear("verdicts", b'[{"bn":"chargeassist/","n":"sentence/si","vs":"Wait."}]')
            except OSError as error:
                note(str(error))
            await asyncio.sleep(0.01)


@pytest.mark.parametrize("form", ["--lines", "--json"])
def test_watch_ends_when_nobody_reads_it(form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watch_command, "make_board", lambda address: StubbornBoard())
    nobody_reads(monkeypatch)
    assert main(["watch", "mqtt://localhost/a", form]) == 1


class StubbornSource:
    """A source of one probe that tries again whatever goes wrong."""

    name = "stubborn"

    def __init__(self, spec: SourceSpec) -> None:
        self.channels = tuple(probe.channel for probe in spec.probes)

    async def run(self, sink: Sink, clock: Clock) -> None:
        while True:
            try:
                sink.reading(self.channels[0].name, 1.7e6, t=clock.now())
            except OSError as error:
                sink.lost(str(error))
            await asyncio.sleep(0.01)


@pytest.mark.parametrize("form", [[], ["--json"]])
def test_probes_ends_when_nobody_reads_it(form: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    def made(spec: SourceSpec, base: Path) -> StubbornSource:
        return StubbornSource(spec)

    monkeypatch.setattr(probes_command, "make_source", made)
    nobody_reads(monkeypatch)
    assert main(["probes", "serial:/dev/ttyUSB0", "--seconds", "60", *form]) == 1
