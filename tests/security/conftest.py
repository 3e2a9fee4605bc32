"""Records that hold what means harm, as files."""

from pathlib import Path

import pytest

from chargeassist.model.events import Event
from tests.security.evil import EVIL, FORMULA, session_events, write_session


@pytest.fixture(scope="session")
def evil_events() -> list[Event]:
    return session_events(EVIL)


@pytest.fixture(scope="session")
def evil_session(tmp_path_factory: pytest.TempPathFactory, evil_events: list[Event]) -> Path:
    return write_session(tmp_path_factory.mktemp("evil") / "evil.session", evil_events)


@pytest.fixture(scope="session")
def formula_session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("formula")
    return write_session(folder / "formula.session", session_events(FORMULA, "f" * 32))
