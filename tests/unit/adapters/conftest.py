from collections.abc import Callable

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ProbeSpec
from chargeassist.model.units import Reference


@pytest.fixture
def pressure() -> Callable[..., ProbeSpec]:
    """A head pressure probe in psig; everything about it can be said otherwise."""

    def make(
        unit: str = "psig",
        *,
        name: str = "head_p",
        select: str = "",
        topic: str = "",
        scale: float = 1.0,
        offset: float = 0.0,
        low_si: float | None = None,
        high_si: float | None = None,
        reference: Reference | None = Reference.GAUGE,
    ) -> ProbeSpec:
        channel = Channel(
            name=name,
            role=Role.LIQUID_PRESSURE,
            unit=unit,
            reference=reference,
            low_si=low_si,
            high_si=high_si,
        )
        return ProbeSpec(channel=channel, select=select, topic=topic, scale=scale, offset=offset)

    return make


@pytest.fixture
def temperature() -> Callable[..., ProbeSpec]:
    """A liquid line thermometer in degrees Celsius."""

    def make(
        unit: str = "°C",
        *,
        name: str = "liquid_t",
        select: str = "",
        topic: str = "",
        max_age_s: float = 10.0,
    ) -> ProbeSpec:
        channel = Channel(name=name, role=Role.LIQUID_TEMPERATURE, unit=unit, max_age_s=max_age_s)
        return ProbeSpec(channel=channel, select=select, topic=topic)

    return make
