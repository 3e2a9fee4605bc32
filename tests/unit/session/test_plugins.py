"""Adapters by name, found by entry points, imported only when asked for."""

import subprocess
import sys
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from chargeassist.model.errors import SourceError, UnknownSourceError
from chargeassist.model.job import SourceSpec
from chargeassist.session import plugins
from chargeassist.session.plugins import make_source, source_class, source_names
from chargeassist.session.source import Source

OURS = {"serial", "mqtt", "simulator", "recording"}


def offer(monkeypatch: pytest.MonkeyPatch, name: str, value: str) -> None:
    point = EntryPoint(name=name, value=value, group=plugins.GROUP)
    monkeypatch.setattr(plugins, "entry_points", lambda group: [point])


def test_at_least_our_own_adapters_are_there() -> None:
    assert set(source_names()) >= OURS


def test_names_are_listed_without_importing_an_adapter() -> None:
    code = (
        "import sys; from chargeassist.session.plugins import source_names; source_names();"
        "print([m for m in ('serial', 'aiomqtt', 'chargeassist_adapters') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", sorted(OURS))
def test_each_of_ours_is_a_source(name: str) -> None:
    assert {"from_spec", "run", "channels", "brings_time", "simulated"} <= set(
        dir(source_class(name))
    )


def test_an_unknown_scheme_names_the_known_ones_and_obeys_nothing() -> None:
    with pytest.raises(UnknownSourceError, match=r"no adapter for 'canbus:'.*serial:") as got:
        source_class("canbus")
    assert "simulator:" in str(got.value)
    with pytest.raises(UnknownSourceError) as plain:
        source_class("\x1b[2J" + "x" * 500)
    assert "\x1b" not in str(plain.value)
    assert len(str(plain.value)) < 200


def test_no_adapter_at_all_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plugins, "entry_points", lambda group: [])
    with pytest.raises(UnknownSourceError, match="installed ones are none"):
        source_class("serial")


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("no_such_module_anywhere:Thing", "cannot be imported"),
        ("pathlib:NoSuchClass", "cannot be imported"),
        ("pathlib:Path", "is not a Source"),
        ("json:dumps", "is not a Source"),
    ],
)
def test_a_broken_adapter_is_an_error_with_its_name(
    monkeypatch: pytest.MonkeyPatch, value: str, expected: str
) -> None:
    offer(monkeypatch, "rig", value)
    with pytest.raises(SourceError, match=expected):
        source_class("rig")


def test_make_source_gives_a_source_of_the_spec() -> None:
    source = make_source(SourceSpec(name="unit", url="simulator:?seed=3"), Path())
    assert isinstance(source, Source)
    assert source.name == "unit"
    assert source.simulated
