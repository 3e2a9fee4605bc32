"""Airflow by heat balance: a known heat and the temperature rise it gives the air.

An electric heater or a furnace warms the air with the compressor off and the blower running as for
cooling. The airflow is the heat over temperature rise and heat capacity, at the density of the
site's air. The heat stands in the job file (heater's plate; for a furnace, input times efficiency)
or is typed (volts times amps). The air before and after it is read by the return and supply probes
once the rise is steady, or is typed. The cooling capacity of the unit cannot serve as that heat: it
depends on the charge, which is what has to be judged.
"""

import math
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.air_side import Estimate, flow_by_heat
from chargeassist.physics.moist_air import moist_air, wet_bulb_k
from chargeassist.physics.uncertainty import expanded_from_half_width
from chargeassist.stream.facts import Facts

HEATER_RUNS: Final = "heater_runs"
"""Text of the mark that confirms that the heater of the job file runs."""

SOURCE: Final = (
    "airflow by heat balance, V A 3.414 / (1.08 dT): equipment manual, easymanua.ls/"
    "heat-controller/rse1318-1a/manual, page 14; here with the site's air instead of 1.08"
)

STANDS_S: Final = 60.0
STANDS_K: Final = 0.5
"""A rise read by probes counts once it has stayed within `STANDS_K` [K] for `STANDS_S` [s]. This is
not a limit of the unit but what a steady mean needs. Assumption."""

_HUMIDITY: Final = (0.5, 0.1, 0.9)
"""Relative humidity assumed for air where it is not measured, and its lower and upper bound [1]. It
moves the flow by less than half a percent, since volume and heat capacity rise together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """One airflow by heat balance.

    Attributes
    ----------
    t : float
        When it was found [s].
    flow_m3_per_s : float
    expanded_m3_per_s : float or None
        Expanded uncertainty (k = 2); None where an accuracy is not declared.
    heat_w, before_k, after_k, density_kg_per_m3 : float
        What it was computed from; the density is that of the air before the heat.
    source : str
        Where the heat was read.
    by_probes : bool
        Whether the rise was read by probes.
    """

    t: float
    flow_m3_per_s: float
    expanded_m3_per_s: float | None
    heat_w: float
    before_k: float
    after_k: float
    density_kg_per_m3: float
    source: str
    by_probes: bool


def newer(balance: Balance | None, facts: Facts) -> Balance | None:
    """Return `balance` if it is newer than any airflow that was typed; else None."""
    typed = facts.entered.get(Entry.AIRFLOW)
    if balance is None or (typed is not None and typed.t >= balance.t):
        return None
    return balance


class HeatBalance:
    """Follows what the technician tells of heater or furnace; one per session.

    Parameters
    ----------
    job : Job

    Attributes
    ----------
    found : Balance or None
        The newest result.
    why : str
        Why the last heat gave none; else empty.
    """

    def __init__(self, job: Job) -> None:
        self._plan = job.stages.air
        self._lasts_s = job.limit_or_usual(LimitKey.TYPED_LASTS).value_si
        self._heater_lasts_s = job.limit_si(LimitKey.HEATER_LASTS)
        self._typed_half_k = job.limit_si(LimitKey.TYPED_AIR_ACCURACY)
        self._heat: tuple[float, str] | None = None
        self._since_t = 0.0
        self._typed: dict[Entry, tuple[float, float]] = {}
        self._rise: deque[tuple[float, float, float]] = deque()
        self.found: Balance | None = None
        self.why = ""

    @property
    def waits(self) -> bool:
        """Whether a heat was told and the air before or after it is still missing."""
        return self._heat is not None

    @property
    def needs_heat(self) -> bool:
        """Whether the heat has to be typed because the job file does not give it."""
        return self._plan.heat_w is None

    def take(self, mark: Mark) -> None:
        """Take a typed heat, the confirmation that the heater runs, or typed air temperatures."""
        if mark.kind is MarkKind.CONFIRMED and mark.text == HEATER_RUNS:
            if self._plan.heat_w is not None:
                self._begin(mark.t, self._plan.heat_w, self._plan.heat_source)
        elif mark.kind is MarkKind.ENTERED and mark.value_si is not None:
            entry = believed(mark.text, mark.value_si)
            if entry is Entry.HEAT:
                self._begin(mark.t, mark.value_si, "typed by the technician")
            elif entry in {Entry.AIR_BEFORE_HEAT, Entry.AIR_AFTER_HEAT}:
                self._typed[entry] = (mark.seen_t, mark.value_si)

    def _begin(self, t: float, heat_w: float, source: str) -> None:
        self._heat, self._since_t = (heat_w, source), t
        self._typed.clear()
        self._rise.clear()

    def tick(self, facts: Facts, channels: Mapping[Role, Channel]) -> bool:
        """Follow the rise at one tick; return whether `found` or `why` is new."""
        if self._heat is None:
            return False
        t = facts.t
        if t - self._since_t > self._heater_lasts_s:
            self._heat = None
            return self._say("air before and after the heat was neither steady nor typed in time")
        before = self._air(t, Entry.AIR_BEFORE_HEAT)
        after = self._air(t, Entry.AIR_AFTER_HEAT)
        by_probes = before is None or after is None
        if by_probes:
            live = self._steady(facts, before, after)
            if live is None:
                return False
            before, after = live
        if before is None or after is None:  # `_steady` has answered
            raise AssertionError("a rise without its temperatures")
        return self._reckon(facts, channels, before, after, by_probes=by_probes)

    def _air(self, t: float, entry: Entry) -> float | None:
        typed = self._typed.get(entry)
        return typed[1] if typed is not None and t - typed[0] <= self._lasts_s else None

    def _steady(
        self, facts: Facts, before: float | None, after: float | None
    ) -> tuple[float, float] | None:
        """Return the mean temperatures once the rise is steady [K]; None before."""
        if before is None:
            before = facts.live(Role.RETURN_AIR_TEMPERATURE)
        if after is None:
            after = facts.live(Role.SUPPLY_AIR_TEMPERATURE)
        if before is None or after is None:
            self._rise.clear()
            return None
        self._rise.append((facts.t, before, after))
        while len(self._rise) > 1 and facts.t - self._rise[1][0] >= STANDS_S:
            self._rise.popleft()
        rises = [high - low for _, low, high in self._rise]
        stood = facts.t - self._rise[0][0] >= STANDS_S
        # Without a rise there is no heat yet: a probe in cooled air shows a steady fall.
        if not stood or max(rises) - min(rises) > STANDS_K or min(rises) <= 0.0:
            return None
        count = len(self._rise)
        return (
            math.fsum(low for _, low, _ in self._rise) / count,
            math.fsum(high for _, _, high in self._rise) / count,
        )

    def _reckon(
        self,
        facts: Facts,
        channels: Mapping[Role, Channel],
        before: float,
        after: float,
        *,
        by_probes: bool,
    ) -> bool:
        if self._heat is None:
            return False
        heat_w, source = self._heat
        self._heat = None
        half_widths = [
            _half_width(channels.get(role), read_k) if typed is None else self._typed_half_k
            for role, read_k, typed in (
                (Role.RETURN_AIR_TEMPERATURE, before, self._air(facts.t, Entry.AIR_BEFORE_HEAT)),
                (Role.SUPPLY_AIR_TEMPERATURE, after, self._air(facts.t, Entry.AIR_AFTER_HEAT)),
            )
        ]
        heat = Estimate(value=heat_w, expanded=_expanded(self._plan.heat_accuracy, heat_w) or 0.0)
        declared = self._plan.heat_accuracy is not None and None not in half_widths
        coarsest = max((half for half in half_widths if half is not None), default=0.0)
        expanded_k = expanded_from_half_width(coarsest)
        flow, density = _flow(facts, heat, before, after, expanded_k)
        if isinstance(flow, NoValue):
            return self._say(flow.reason)
        self.why = ""
        self.found = Balance(
            t=facts.t,
            flow_m3_per_s=flow.value,
            expanded_m3_per_s=flow.expanded if declared else None,
            heat_w=heat_w,
            before_k=before,
            after_k=after,
            density_kg_per_m3=density,
            source=source,
            by_probes=by_probes,
        )
        return True

    def _say(self, why: str) -> bool:
        self.why = why
        return True


def _flow(
    facts: Facts, heat: Estimate, before_k: float, after_k: float, expanded_k: float
) -> tuple[Estimate | NoValue, float]:
    """Return the flow [m3/s] and the density before the heat [kg/m3], with humidity assumed."""
    if after_k <= before_k:
        return NoValue("the air after the heat is no warmer than before it"), 0.0
    flows: list[Estimate] = []
    density = 0.0
    for humidity in _HUMIDITY:
        wet = wet_bulb_k(before_k, humidity, facts.station_pa_abs)
        if isinstance(wet, NoValue):
            return wet, 0.0
        before = moist_air(before_k, wet, facts.station_pa_abs)
        if isinstance(before, NoValue):
            return before, 0.0
        flow = flow_by_heat(heat, before, after_k, dry_bulb_expanded_k=expanded_k)
        if isinstance(flow, NoValue):
            return flow, 0.0
        flows.append(flow)
        density = density or before.density_kg_per_m3
    half = 0.5 * abs(flows[1].value - flows[2].value)
    expanded = math.hypot(flows[0].expanded, expanded_from_half_width(half))
    return Estimate(value=flows[0].value, expanded=expanded), density


def _half_width(channel: Channel | None, value: float) -> float | None:
    return None if channel is None else channel.half_width(value)


def _expanded(accuracy: Accuracy | None, value: float) -> float | None:
    return None if accuracy is None else expanded_from_half_width(accuracy.half_width(value))
