from pathlib import Path

import pytest

from chargeassist.model.events import Event
from chargeassist.session.record.package import write_package


@pytest.fixture
def folder(tmp_path: Path, whole: list[Event]) -> Path:
    folder = tmp_path / "library"
    write_package(whole, folder)
    return folder
