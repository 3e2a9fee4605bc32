"""Traces of probes, made second by second."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from chargeassist.model.channels import Channel, Role
from chargeassist.model.units import Reference
from chargeassist.stream.facts import Measured
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble
from chargeassist.stream.probe_health import ProbeHealth
from chargeassist.stream.probe_watch import ProbeWatch

PSI = 6894.757293168361
TENTH_F = 1.0 / 18.0
FloatArray = NDArray[np.float64]

# Role: mean, white noise, slow drift (standard deviation, correlation 15 s), resolution [SI].
USUAL: Mapping[Role, tuple[float, float, float, float]] = {
    Role.LIQUID_PRESSURE: (2.3e6, 1700.0, 600.0, 0.1 * PSI),
    Role.SUCTION_PRESSURE: (0.9e6, 800.0, 300.0, 0.1 * PSI),
    Role.LIQUID_TEMPERATURE: (305.0, 0.028, 0.015, TENTH_F),
    Role.SUCTION_TEMPERATURE: (288.0, 0.028, 0.015, TENTH_F),
    Role.DISCHARGE_TEMPERATURE: (345.0, 0.05, 0.03, TENTH_F),
    Role.OUTDOOR_AIR_TEMPERATURE: (297.0, 0.03, 0.02, TENTH_F),
    Role.RETURN_AIR_TEMPERATURE: (297.0, 0.03, 0.02, TENTH_F),
    Role.SUPPLY_AIR_TEMPERATURE: (286.0, 0.03, 0.02, TENTH_F),
    Role.COMPRESSOR_CURRENT: (9.0, 0.04, 0.02, 0.01),
    Role.COMPRESSOR_FREQUENCY: (72.0, 0.03, 0.0, 0.1),
    Role.CYLINDER_MASS: (9.2, 0.0004, 0.0, 0.001),
    Role.BAROMETER: (98_800.0, 10.0, 0.0, 10.0),
}


def drift(random: np.random.Generator, n: int, dt_s: float, sd: float, tau_s: float) -> FloatArray:
    """A first-order coloured noise of standard deviation `sd`, shape (n,)."""
    keep = float(np.exp(-dt_s / tau_s))
    kicks = random.normal(0.0, sd * np.sqrt(1.0 - keep * keep), n)
    values = np.empty(n)
    level = random.normal(0.0, sd)
    for k in range(n):
        level = keep * level + kicks[k]
        values[k] = level
    return values


@dataclass
class Trace:
    """Readings of all channels at one rate, to be spoilt by a test and then run."""

    seconds: float
    rate_hz: float = 1.0
    seed: int = 1
    pressure_step_pa: float = 0.1 * PSI
    noise_share: float = 1.0
    roles: Iterable[Role] = tuple(USUAL)
    t: FloatArray = field(init=False)
    values: dict[Role, FloatArray] = field(init=False)

    def __post_init__(self) -> None:
        random = np.random.default_rng(self.seed)
        n = int(self.seconds * self.rate_hz)
        self.t = np.arange(n) / self.rate_hz
        gust = drift(random, n, 1.0 / self.rate_hz, 0.2, 40.0)
        self.values = {}
        for role in self.roles:
            mean, noise, slow, _ = USUAL[role]
            value = mean + self.noise_share * random.normal(0.0, noise, n)
            value += drift(random, n, 1.0 / self.rate_hz, slow, 15.0)
            if role in {Role.LIQUID_TEMPERATURE, Role.OUTDOOR_AIR_TEMPERATURE}:
                value += gust
            if role is Role.LIQUID_PRESSURE:
                value += 60e3 * gust
            self.values[role] = value

    def channel(self, role: Role) -> Channel:
        step = USUAL[role][3]
        if role in {Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE}:
            step = self.pressure_step_pa
        return Channel(
            name=role.value,
            role=role,
            unit="SI",
            reference=Reference.GAUGE,
            resolution_si=step,
            max_age_s=max(10.0, 3.0 / self.rate_hz),
        )

    def run(
        self,
        told_t: float = math.inf,
        superheat_k: float | None = None,
        seen_to: tuple[float, str] = (math.inf, ""),
        resumed_t: float = math.inf,
    ) -> list[tuple[float, tuple[ProbeFinding, ...]]]:
        """Feed everything and tick every second; return (t, findings) whenever they change.

        At `told_t` the health is told of a charge step; of the superheat from the beginning; at the
        time in `seen_to`, that the technician has seen to the channel named there. At `resumed_t`
        every channel is declared again.
        """
        health = ProbeHealth()
        superheat = None if superheat_k is None else Measured(value_k=superheat_k)
        rows: list[tuple[ProbeWatch, list[float]]] = []
        for role, values in self.values.items():
            channel = self.channel(role)
            watch = health.declare(channel)
            step = channel.resolution_si or 0.0
            shown = np.round(values / step) * step
            rows.append((watch, shown.tolist()))
        seen: list[tuple[float, tuple[ProbeFinding, ...]]] = []
        tick = 1.0
        last: tuple[ProbeFinding, ...] = ()
        for k, t in enumerate(self.t.tolist()):
            while tick <= t:
                if tick == told_t:
                    health.disturbed(tick)
                if tick == resumed_t:
                    rows = [
                        (health.declare(self.channel(role)), shown)
                        for role, (_, shown) in zip(self.values, rows, strict=True)
                    ]
                if tick == seen_to[0]:
                    health.acknowledge(seen_to[1])
                found = health.tick(tick, superheat)
                if [(f.channel, f.kind, f.severity) for f in found] != [
                    (f.channel, f.kind, f.severity) for f in last
                ]:
                    seen.append((tick, found))
                last = found
                tick += 1.0
            for watch, shown_values in rows:
                value = shown_values[k]
                if value == value:  # NaN marks a sample that never came
                    watch.take(t, value)
        return seen

    def at(self, t: float) -> int:
        """Index of the first sample at or after `t` [s]."""
        return int(np.searchsorted(self.t, t))


def kinds(found: list[tuple[float, tuple[ProbeFinding, ...]]]) -> set[tuple[str, ProbeTrouble]]:
    return {(item.channel, item.kind) for _, findings in found for item in findings}


def first(
    found: list[tuple[float, tuple[ProbeFinding, ...]]], kind: ProbeTrouble
) -> tuple[float, ProbeFinding]:
    for t, findings in found:
        for item in findings:
            if item.kind is kind:
                return t, item
    raise AssertionError(f"no {kind} in {kinds(found)}")
