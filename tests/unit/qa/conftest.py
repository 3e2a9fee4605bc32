"""Two short sessions: one of hand-made events, one of a simulated unit that is really judged."""

import asyncio
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.model.events import ChannelDeclared, Event, SessionStopped
from chargeassist.qa.archive import Signer, make_archive
from chargeassist.qa.keys import new_key, private_key
from chargeassist.qa.many import records_under
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.simulate import run_scenario
from tests.unit.qa.fleets import variant

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="session")
def charged() -> list[Event]:
    """The events of the shipped scenario of the bakery, charged to its end by the pilot."""
    return asyncio.run(run_scenario(find_scenario("quarry-road-bakery", Path())))


@pytest.fixture(scope="session")
def good() -> list[Event]:
    """A charge that went as it should: the recorded library, its probes calibrated."""
    with open_record(ROOT / "recordings" / "millrace-lane-library") as record:
        events = list(record.events())
    return [
        replace(e, channel=replace(e.channel, calibrated="2026-01-15"))
        if isinstance(e, ChannelDeclared)
        else e
        for e in events
    ]


@pytest.fixture(scope="session")
def session_file(tmp_path_factory: pytest.TempPathFactory, charged: list[Event]) -> Path:
    """The same as a session file, committed once a second as a live session is."""
    return write_session(tmp_path_factory.mktemp("session") / "bakery.session", charged)


def write_session(path: Path, events: list[Event]) -> Path:
    writer = SessionWriter.create(path, events[0])  # type: ignore[arg-type]
    last = 0.0
    for event in events[1:-1]:
        if event.t >= last + 1.0:
            writer.commit()
            last = event.t
        writer.append(event)
    assert isinstance(events[-1], SessionStopped)
    assert writer.close(events[-1])
    return path


@pytest.fixture(scope="session")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("config") / "keys"
    new_key("qa-desk", folder)
    return folder


@pytest.fixture(scope="session")
def signer(keys: Path) -> Signer:
    return Signer("qa-desk", private_key("qa-desk", keys))


@pytest.fixture(scope="session")
def sealed_once(
    tmp_path_factory: pytest.TempPathFactory, session_file: Path, signer: Signer
) -> Path:
    """A signed archive, as a folder; copied by the tests that change it."""
    folder = tmp_path_factory.mktemp("archives") / "bakery"
    make_archive(session_file, folder, signer=signer)
    return folder


@pytest.fixture
def sealed(tmp_path: Path, sealed_once: Path) -> Path:
    folder = tmp_path / "bakery"
    folder.mkdir()
    for path in sealed_once.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    return folder


@pytest.fixture(scope="session")
def archives(tmp_path_factory: pytest.TempPathFactory, charged: list[Event]) -> Path:
    """Four archives of a fleet."""
    folder = tmp_path_factory.mktemp("fleet")
    for name in ("packages", "archives"):
        (folder / name).mkdir()
    for number in range(4):
        write_package(variant(charged, number), folder / "packages" / f"{number}")
        make_archive(folder / "packages" / f"{number}", folder / "archives" / f"{number}.zip")
    return folder / "archives"


@pytest.fixture
def with_bad(tmp_path: Path, archives: Path) -> list[Path]:
    """Copies of the fleet's archives, and one that is none."""
    folder = tmp_path / "archives"
    folder.mkdir()
    for path in archives.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "bad.zip").write_bytes(b"junk")
    return records_under([folder])
