"""The simulated units behind the simulator: what acts on a plant, and what its probes read.

A unit is told each of the technician's marks when the plant has come to its time. What a mark does:

===================  ==============================================================================
``step_begun``       opens the cylinder valve; with a mass, for exactly that much
``step_ended``       shuts it; a negative mass is recovered
``frequency_held``   (scenarios) the technician puts the unit into its charge mode: it goes to the
                     required frequency, and a switch that had opened is reset
``frequency_left``   (scenarios) the unit goes by its load again
``probe_seen_to``    (scenarios) the probe is put right; it comes to the truth by its own lag
===================  ==============================================================================
"""

from collections.abc import Mapping
from typing import Final, Protocol

from chargeassist.model.channels import Channel
from chargeassist.model.events import Mark, MarkKind
from chargeassist.session.scenario.plant import ScenarioPlant
from chargeassist.session.scenario.scenario import ScenarioUnit
from chargeassist_adapters.simulated_probes import ProbeBench

HEARD: Final = frozenset(MarkKind) - {
    MarkKind.CONFIRMED, MarkKind.NOTE, MarkKind.ENTERED,
    MarkKind.STAGE_SKIPPED,
}  # fmt: skip
"""Marks a unit may answer to."""


class SimulatedUnit(Protocol):
    """A plant with its probes."""

    def run_until(self, t: float) -> None:
        """Advance the plant to `t` [s]."""
        ...

    def act(self, mark: Mark) -> None:
        """Let the technician do something now."""
        ...

    def truth(self) -> Mapping[str, float]:
        """Return what is so now, whatever the probes say [SI, units in the names]."""
        ...

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`, `dt_s` after the last time; not the silent ones.

        Returns
        -------
        Mapping[str, float]
            By channel name [SI, pressures counted as the channel counts them].
        """
        ...


class PhysicalUnit:
    """The unit of a scenario.

    Parameters
    ----------
    unit : ScenarioUnit
    channels : tuple of Channel
        What is delivered.
    """

    def __init__(self, unit: ScenarioUnit, channels: tuple[Channel, ...]) -> None:
        self._worked = ScenarioPlant(unit)
        self._plant = self._worked.plant
        settings = unit.settings
        self._bench = ProbeBench(
            channels, unit.probes, unit.silences, settings.station_pa_abs, settings.seed
        )

    def run_until(self, t: float) -> None:
        """Advance the plant to `t` [s], with each command at its own time."""
        self._worked.run_until(t)

    def act(self, mark: Mark) -> None:
        """Let the technician do something now; see the module."""
        if mark.kind is MarkKind.PROBE_SEEN_TO:
            self._bench.see_to(mark.text)
        else:
            self._worked.act(mark)

    def truth(self) -> Mapping[str, float]:
        """Return what is so now; subcooling and superheat are those a faultless probe would show.

        ``circuit_kg`` is the refrigerant in the machine, ``arriving_kg`` what was added and has not
        reached the condenser yet, hose included, ``leaked_kg`` what is lost.
        """
        plant = self._plant
        circuit = plant.circuit
        return {
            "subcooling_k": plant.subcooling_k,
            "superheat_k": plant.superheat_k,
            "liquid_pressure_pa_abs": circuit.head_pa_abs,
            "suction_pressure_pa_abs": circuit.suction_pa_abs,
            "liquid_temperature_k": circuit.liquid_pipe_k,
            "suction_temperature_k": circuit.port_k,
            "discharge_k": plant.discharge_k,
            "outdoor_k": plant.outdoor_k,
            "frequency_hz": plant.frequency_hz,
            "current_a": plant.current_a,
            "circuit_kg": plant.circuit_kg,
            "arriving_kg": plant.arriving_kg,
            "leaked_kg": plant.leaked_kg,
        }

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`; see `SimulatedUnit`."""
        return self._bench.read(self._plant.truth(), t, dt_s)
