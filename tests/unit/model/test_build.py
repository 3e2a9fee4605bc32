"""A compiled module beside a source outranks it; whoever asks for the version is told."""

from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path

import pytest

import chargeassist
from chargeassist.model.build import is_compiled, software


def test_a_compiled_core_is_named_in_version_and_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(chargeassist, "__path__", [str(tmp_path)])
    (tmp_path / "guide").mkdir()
    source = tmp_path / "guide" / "assistant.py"
    source.touch()
    assert not is_compiled()
    assert software() == f"chargeassist {chargeassist.__version__}"
    source.with_suffix(EXTENSION_SUFFIXES[0]).touch()
    assert is_compiled()
    assert software() == f"chargeassist {chargeassist.__version__} (compiled)"
