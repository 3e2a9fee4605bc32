"""Data classes with the quicker ``__init__`` are made as `dataclasses` would make them."""

import dataclasses
import inspect
import pickle
from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest

from chargeassist.model.events import Advice, Reading
from chargeassist.model.quick_init import quick_init
from chargeassist.stream.facts import Facts, Settling


@dataclass(frozen=True, slots=True)
class Usual:
    x: float
    name: str = "pipe"
    figures: Mapping[str, float] = field(default_factory=dict, kw_only=True)
    y: float = field(default=1.0, kw_only=True)

    def __post_init__(self) -> None:
        if self.y < 0.0:
            raise ValueError("y")


@quick_init
@dataclass(frozen=True, slots=True)
class Quick:
    x: float
    name: str = "pipe"
    figures: Mapping[str, float] = field(default_factory=dict, kw_only=True)
    y: float = field(default=1.0, kw_only=True)

    def __post_init__(self) -> None:
        if self.y < 0.0:
            raise ValueError("y")


@pytest.mark.parametrize("cls", [Usual, Quick])
def test_defaults_order_and_checks_are_the_same(cls: type[Quick]) -> None:
    assert dataclasses.asdict(cls(2.0)) == {"x": 2.0, "name": "pipe", "figures": {}, "y": 1.0}
    full = cls(2.0, "coil", figures={"a": 1.0}, y=3.0)
    assert dataclasses.replace(full, y=4.0) == cls(2.0, "coil", figures={"a": 1.0}, y=4.0)
    assert cls(2.0).figures is not cls(2.0).figures
    with pytest.raises(ValueError, match="y"):
        cls(2.0, y=-1.0)
    with pytest.raises(TypeError):
        cls(2.0, "coil", {"a": 1.0})  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="'x'"):
        cls()  # type: ignore[call-arg]
    with pytest.raises(dataclasses.FrozenInstanceError):
        full.x = 1.0  # type: ignore[misc]
    assert pickle.loads(pickle.dumps(full)) == full


@pytest.mark.parametrize("cls", [Reading, Advice, Facts, Settling])
def test_every_field_is_a_parameter_with_its_default(cls: type) -> None:
    parameters = inspect.signature(cls).parameters
    assert list(parameters) == [each.name for each in dataclasses.fields(cls)]
    for each in dataclasses.fields(cls):
        has_default = parameters[each.name].default is not inspect.Parameter.empty
        with_default = (each.default, each.default_factory) != (dataclasses.MISSING,) * 2
        assert has_default is with_default
        if each.default is not dataclasses.MISSING:
            assert parameters[each.name].default is each.default


def test_class_without_slots_is_refused() -> None:
    with pytest.raises(TypeError, match="slot"):

        @quick_init
        @dataclass(frozen=True)
        class Loose:
            x: float
