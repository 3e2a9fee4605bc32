"""The first charge behind the simulator: a cylinder on a scale, and an evacuated circuit.

What the technician's marks do:

===================  ==============================================================================
``step_begun``       opens the cylinder valve; with a mass, for exactly that much ``step_ended``
shuts it; a negative mass is recovered. If no scale is simulated, the technician
                     is taken to have one: the mass told is what went in
``probe_seen_to``    repairs the probe, which then approaches the truth with its own time constant
===================  ==============================================================================

Probes of clamp current, drive and supply air are silent, because the unit does not run.
"""

from collections.abc import Mapping
from dataclasses import replace

from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Mark, MarkKind
from chargeassist.plant.first_charge import FirstCharge, FirstChargeSettings
from chargeassist.session.scenario.probes import ScenarioProbes
from chargeassist_adapters.simulated_probes import ProbeBench


class FirstChargeUnit:
    """A circuit that is given its first charge, with its probes.

    Parameters
    ----------
    settings : FirstChargeSettings
    channels : tuple of Channel
        Channels of the job; those that have nothing to read here are silent.
    probes : ScenarioProbes
        Their faults belong to the running unit and are left out.
    seed : int
        Of the probes' noise.
    """

    def __init__(
        self,
        settings: FirstChargeSettings,
        channels: tuple[Channel, ...],
        probes: ScenarioProbes,
        seed: int,
    ) -> None:
        self._plant = FirstCharge(settings)
        heard = tuple(each for each in channels if each.role in self._plant.truth())
        self._scale = any(each.role is Role.CYLINDER_MASS for each in heard)
        self._bench = ProbeBench(
            heard, replace(probes, faults=()), (), settings.station_pa_abs, seed
        )
        self._begun_kg: float | None = None

    @property
    def charge_kg(self) -> float:
        """Refrigerant in circuit and hose [kg]."""
        return self._plant.given_kg

    @property
    def cylinder_kg(self) -> float:
        """Refrigerant in the cylinder [kg]."""
        return self._plant.cylinder_kg

    def run_until(self, t: float) -> None:
        """Simulate until `t` [s]."""
        self._plant.run_until(t)

    def act(self, mark: Mark) -> None:
        """Apply a mark of the technician; see the module."""
        plant = self._plant
        match mark.kind:
            case MarkKind.STEP_BEGUN:
                self._begun_kg = plant.cylinder_kg
                plant.begin_step(mark.mass_kg)
            case MarkKind.STEP_ENDED if mark.mass_kg is None or self._scale:
                plant.end_step(mark.mass_kg)
                self._begun_kg = None
            case MarkKind.STEP_ENDED:
                flowed_kg = 0.0 if self._begun_kg is None else self._begun_kg - plant.cylinder_kg
                plant.end_step()
                plant.end_step((mark.mass_kg or 0.0) - flowed_kg)
                self._begun_kg = None
            case MarkKind.PROBE_SEEN_TO:
                self._bench.see_to(mark.text)
            case _:
                pass

    def truth(self) -> Mapping[str, float]:
        """Return the true state of circuit and cylinder; the unit is in each name."""
        plant = self._plant
        return {
            "pressure_pa_abs": plant.pressure_pa_abs,
            "circuit_k": plant.circuit_k,
            "circuit_kg": plant.charge_kg,
            "cylinder_k": plant.cylinder_k,
            "cylinder_kg": plant.cylinder_kg,
            "cylinder_gross_kg": plant.cylinder_kg + plant.settings.tare_kg,
        }

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`; see `SimulatedUnit`."""
        return self._bench.read(self._plant.truth(), t, dt_s)
