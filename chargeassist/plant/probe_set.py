"""All probes of one simulated machine, with what can be wrong about them.

Each probe answers late, noisily and in steps (`chargeassist.plant.probes`). Beyond that it can lie
in four ways, each from some time on: a wrong zero that may creep, a clamp without contact, a value
that stands still, and more noise than it should have.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.plant.probes import PROBE_MODELS, Probe, ProbeModel

LOOSE_LAG_S: Final = 70.0
"""Time constant of a clamp that hangs beside the pipe [s] (assumption)."""

CLAMPED: Final = (
    Role.LIQUID_TEMPERATURE,
    Role.SUCTION_TEMPERATURE,
    Role.DISCHARGE_TEMPERATURE,
)
"""Roles measured by a clamp on a pipe outdoors."""


class ProbeFaultKind(StrEnum):
    """How a probe can be wrong."""

    ZERO = "zero"
    LOOSE = "loose"
    STUCK = "stuck"
    NOISY = "noisy"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeFault:
    """One trouble of one probe.

    Attributes
    ----------
    role : Role
    trouble : ProbeFaultKind
    amount : float
        ZERO: what is added [SI of the role]. LOOSE: share of the pipe in what it feels, the rest
        is outdoor air [1]. NOISY: factor of its noise, 1 or more [1]. STUCK: not used.
    start_s, full_s : float
        When it begins, and when a wrong zero has crept to all of its amount [s].

    Raises
    ------
    ConfigError
        The amount means nothing for this trouble, or this probe cannot have it.
    """

    role: Role
    trouble: ProbeFaultKind
    amount: float = 0.0
    start_s: float = 0.0
    full_s: float = 0.0

    def __post_init__(self) -> None:
        if not math.isfinite(self.amount):
            raise ConfigError(f"expected a finite amount of {self.trouble}, came {self.amount!r}")
        if not self.start_s <= self.full_s and self.trouble is ProbeFaultKind.ZERO:
            raise ConfigError(
                f"a zero must be full no earlier than it begins, came {self.start_s!r} s and "
                f"{self.full_s!r} s"
            )
        if self.trouble is ProbeFaultKind.LOOSE:
            if self.role not in CLAMPED:
                raise ConfigError(
                    f"only a clamp can be loose, came {self.role.value}; choose one of "
                    f"{', '.join(role.value for role in CLAMPED)}"
                )
            if not 0.0 <= self.amount <= 1.0:
                raise ConfigError(
                    f"a loose clamp feels a share of the pipe from 0 to 1, came {self.amount!r}"
                )
        if self.trouble is ProbeFaultKind.NOISY and self.amount < 1.0:
            raise ConfigError(f"noise is multiplied by 1 or more, came {self.amount!r}")


class ProbeSet:
    """The probes of one session.

    Parameters
    ----------
    seed : int
        Of all noise; each role has its own stream, so leaving one out changes no other.
    models : mapping of Role to ProbeModel, optional
        Instead of `PROBE_MODELS`; the roles in it are the ones that are read.
    zeros : mapping of Role to float, optional
        A value on the resolution grid of a role [SI], for example 255.37 K for tenths of °F.
    faults : sequence of ProbeFault
    """

    def __init__(
        self,
        seed: int,
        models: Mapping[Role, ProbeModel] | None = None,
        zeros: Mapping[Role, float] | None = None,
        faults: Sequence[ProbeFault] = (),
    ) -> None:
        self._faults = tuple(faults)
        self._probes: dict[Role, Probe] = {}
        self._rest: dict[Role, Probe] = {}
        self._shown: dict[Role, float] = {}
        self._t = 0.0
        for role, model in (PROBE_MODELS if models is None else models).items():
            zero_si = 0.0 if zeros is None else zeros.get(role, 0.0)
            self._probes[role] = Probe(model, f"probe {seed} {role.value}", zero_si)
            noisy = [
                f for f in self._faults if f.role is role and f.trouble is ProbeFaultKind.NOISY
            ]
            if noisy:
                # The extra noise is a second probe that measures nothing.
                extra = math.sqrt(noisy[0].amount ** 2 - 1.0)
                quiet = replace(
                    model, lag_s=0.0, noise_si=extra * model.noise_si,
                    drift_si=extra * model.drift_si, resolution_si=0.0,
                )  # fmt: skip
                self._rest[role] = Probe(quiet, f"extra noise {seed} {role.value}")

    @property
    def roles(self) -> tuple[Role, ...]:
        """The roles that are read."""
        return tuple(self._probes)

    def follow(self, truth: Mapping[Role, float], dt_s: float) -> None:
        """Let `dt_s` pass while each measured value goes to its true one [s].

        Parameters
        ----------
        truth : mapping of Role to float
            From the plant [SI].
        """
        self._t += dt_s
        for role, probe in self._probes.items():
            true_si = truth[role]
            lag_s = None
            for fault in self._faults:
                if fault.role is not role or self._t < fault.start_s:
                    continue
                if fault.trouble is ProbeFaultKind.LOOSE:
                    air_k = truth[Role.OUTDOOR_AIR_TEMPERATURE]
                    true_si = fault.amount * true_si + (1.0 - fault.amount) * air_k
                    lag_s = LOOSE_LAG_S
                elif fault.trouble is ProbeFaultKind.ZERO:
                    span_s = fault.full_s - fault.start_s
                    part = 1.0 if self._t >= fault.full_s else (self._t - fault.start_s) / span_s
                    true_si += part * fault.amount
            probe.follow(true_si, dt_s, lag_s)
            if role in self._rest:
                self._rest[role].follow(0.0, dt_s)

    def mend(self) -> None:
        """Put every probe right, now and for good; each comes to the truth by its own lag."""
        for fault in self._faults:
            if fault.trouble is ProbeFaultKind.STUCK and self._t >= fault.start_s:
                shown = self._shown.get(fault.role)
                if shown is not None:
                    self._probes[fault.role].stand_at(shown)
        self._faults = ()
        self._rest.clear()

    def read(self) -> dict[Role, float]:
        """Return what the probes show now, by role [SI; pressures Pa absolute]."""
        shown = {role: probe.read() for role, probe in self._probes.items()}
        for fault in self._faults:
            if fault.role not in shown or self._t < fault.start_s:
                continue
            if fault.trouble is ProbeFaultKind.STUCK:
                shown[fault.role] = self._shown.get(fault.role, shown[fault.role])
            elif fault.trouble is ProbeFaultKind.NOISY:
                shown[fault.role] += self._rest[fault.role].read()
        self._shown = shown
        return dict(shown)
