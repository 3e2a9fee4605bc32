"""The probes of a simulated unit: each channel reads the truth in its own way, or says nothing."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from chargeassist.model.channels import Channel, Role
from chargeassist.model.units import Reference, find_unit
from chargeassist.plant.probe_set import ProbeSet
from chargeassist.session.scenario.faults import Silence
from chargeassist.session.scenario.probes import ScenarioProbes


class ProbeBench:
    """The probes of one scenario, one set each, so that one can be put right alone.

    Parameters
    ----------
    channels : tuple of Channel
        What is delivered.
    probes : ScenarioProbes
    silences : sequence of Silence
    station_pa_abs : float
        What gauge pressures count from [Pa absolute].
    seed : int
    """

    def __init__(
        self,
        channels: tuple[Channel, ...],
        probes: ScenarioProbes,
        silences: Sequence[Silence],
        station_pa_abs: float,
        seed: int,
    ) -> None:
        self._channels = channels
        self._models = probes
        self._silences = tuple(silences)
        self._station_pa_abs = station_pa_abs
        self._seed = seed
        self._probes = {channel.name: self._probe(channel) for channel in channels}

    def see_to(self, name: str) -> None:
        """Put the probe of a channel right: it comes to the truth by its own time constant."""
        if name in self._probes:
            self._probes[name].mend()

    def read(self, truth: Mapping[Role, float], t: float, dt_s: float) -> dict[str, float]:
        """Return what the channels read at `t`, `dt_s` after the last time; not the silent ones.

        Parameters
        ----------
        truth : mapping of Role to float
            [SI; pressures Pa absolute].
        t, dt_s : float
            [s].
        """
        shown: dict[str, float] = {}
        for channel in self._channels:
            probe = self._probes[channel.name]
            probe.follow(truth, dt_s)
            value = probe.read()[channel.role]
            if channel.counted_from is Reference.GAUGE:
                value -= self._station_pa_abs
            if not any(silence.covers(channel.role, t) for silence in self._silences):
                shown[channel.name] = value
        return shown

    def _probe(self, channel: Channel) -> ProbeSet:
        role, probes = channel.role, self._models
        model = probes.models[role]
        if channel.resolution_si is not None:
            model = replace(model, resolution_si=channel.resolution_si)
        zero_si = find_unit(channel.unit, channel.quantity).to_si(0.0)
        if channel.counted_from is Reference.GAUGE:
            zero_si += self._station_pa_abs
        faults = tuple(f for f in probes.faults if f.role is role)
        return ProbeSet(self._seed, {role: model}, {role: zero_si}, faults)
