"""The circuit before charging, behind the simulator: under nitrogen, or under vacuum.

What the technician's marks do:

===================  ===========================================================================
``nitrogen_on``      under nitrogen: the regulator is open to the circuit, a vent that was open is
                     shut; under vacuum: nitrogen comes in until the scenario's ``break_to``
``nitrogen_off``     the supply is shut
``vented``           (nitrogen) a service port is open until nitrogen is let in again
``pump_on``, ``off`` (vacuum) the pump; its check valve shuts its inlet when it stands
``oil_changed``      (vacuum) the pump's oil is dry again
``valve_shut``,      (vacuum) the valve between pump and circuit
``valve_opened``
``leak_mended``      every leak is closed
``probe_seen_to``    the probe is put right; it comes to the truth by its own time constant
===================  ===========================================================================

Others do nothing. A vacuum gauge above its range shows no figure, so nothing is read from it.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Final, Protocol, assert_never

from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.values import NoValue
from chargeassist.plant.evacuation import Evacuation
from chargeassist.plant.evacuation_settings import EvacuationSettings, Place
from chargeassist.plant.nitrogen_circuit import NitrogenCircuit
from chargeassist.plant.nitrogen_settings import NitrogenSettings
from chargeassist.session.scenario.stage import Happening, StageUnit
from chargeassist_adapters.simulated_probes import ProbeBench
from chargeassist_adapters.simulated_unit import SimulatedUnit

_PLACES: Final = (Place.PUMP, Place.NEAR, Place.FAR)


def stage_unit(unit: StageUnit, channels: tuple[Channel, ...]) -> SimulatedUnit:
    """Return the circuit of a scenario of a stage before charging."""
    settings = unit.settings
    match settings:
        case NitrogenSettings():
            return TightnessUnit(unit, settings, channels)
        case EvacuationSettings():
            return DrynessUnit(unit, settings, channels)
        case _:
            assert_never(settings)


class TightnessUnit:
    """A circuit under nitrogen with its probes.

    Parameters
    ----------
    unit : StageUnit
    settings : NitrogenSettings
        Those of `unit`.
    channels : tuple of Channel
        What is delivered.
    """

    def __init__(
        self, unit: StageUnit, settings: NitrogenSettings, channels: tuple[Channel, ...]
    ) -> None:
        self._circuit = NitrogenCircuit(settings)
        self._circuit.set_regulator(unit.nitrogen_pa_gauge)
        self._bench = _bench(unit, channels)
        self._course = _Course(unit.happenings)

    def run_until(self, t: float) -> None:
        """Advance the circuit to `t` [s], with what happens in it at its own time."""
        self._course.live(t, self._circuit.run_until, self._change)

    def act(self, mark: Mark) -> None:
        """Let the technician do something now; see the module."""
        circuit = self._circuit
        match mark.kind:
            case MarkKind.NITROGEN_ON:
                circuit.set_vent(is_open=False)
                circuit.set_supply(is_open=True)
            case MarkKind.NITROGEN_OFF:
                circuit.set_supply(is_open=False)
            case MarkKind.VENTED:
                circuit.set_supply(is_open=False)
                circuit.set_vent(is_open=True)
            case MarkKind.LEAK_MENDED:
                self._course.leaks.clear()
                circuit.mend_leaks()
            case MarkKind.PROBE_SEEN_TO:
                self._bench.see_to(mark.text)
            case _:
                pass

    def truth(self) -> Mapping[str, float]:
        """Return what is so now: pressure, temperatures, and the gas that is there and gone."""
        so = self._circuit.truth()
        return {
            "pressure_pa_abs": so.pressure_pa_abs,
            "outdoor_pipe_k": so.outdoor_pipe_k,
            "indoor_pipe_k": so.indoor_pipe_k,
            "outdoor_gas_k": so.outdoor_gas_k,
            "indoor_gas_k": so.indoor_gas_k,
            "outdoor_k": so.outdoor_air_k,
            "indoor_k": so.indoor_air_k,
            "amount_mol": self._circuit.amount_mol,
            "leaked_mol": self._circuit.leaked_mol,
            "leak_mol_per_s": so.leak_mol_per_s,
        }

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`; see `SimulatedUnit`."""
        so = self._circuit.truth()
        truth = {
            Role.LIQUID_PRESSURE: so.pressure_pa_abs,
            Role.SUCTION_PRESSURE: so.pressure_pa_abs,
            Role.LIQUID_TEMPERATURE: so.outdoor_pipe_k,
            Role.SUCTION_TEMPERATURE: so.indoor_pipe_k,
            Role.OUTDOOR_AIR_TEMPERATURE: so.outdoor_air_k,
            Role.RETURN_AIR_TEMPERATURE: so.indoor_air_k,
        }
        return self._bench.read(truth, t, dt_s)

    def _change(self, what: Happening, *, begins: bool) -> None:
        circuit = self._circuit
        if what.leak is None:
            circuit.set_sun(what.warmer_k if begins else 0.0)
            return
        circuit.mend_leaks()
        for hole in self._course.leaks:
            if hole.leak is not None:
                circuit.add_leak(hole.leak, part=hole.place)


class DrynessUnit:
    """A circuit being evacuated, with its pump and its probes.

    Parameters
    ----------
    unit : StageUnit
    settings : EvacuationSettings
        Those of `unit`.
    channels : tuple of Channel
        What is delivered.
    """

    def __init__(
        self, unit: StageUnit, settings: EvacuationSettings, channels: tuple[Channel, ...]
    ) -> None:
        self._unit = unit
        self._settings = settings
        self._plant = Evacuation(settings)
        self._channels = channels
        self._plant.set_ballast(is_open=unit.ballast)
        self._bench = _bench(unit, channels)
        self._course = _Course(unit.happenings)
        self._warmer_k = {Place.NEAR: 0.0, Place.FAR: 0.0}

    def run_until(self, t: float) -> None:
        """Advance the circuit to `t` [s], with what happens in it at its own time."""
        self._course.live(t, self._plant.run_until, self._change)

    def act(self, mark: Mark) -> None:
        """Let the technician do something now; see the module."""
        plant = self._plant
        match mark.kind:
            case MarkKind.PUMP_ON:
                plant.start_pump()
            case MarkKind.PUMP_OFF:
                plant.stop_pump()
            case MarkKind.OIL_CHANGED:
                plant.change_oil()
            case MarkKind.VALVE_SHUT:
                plant.set_valve(is_open=False)
            case MarkKind.VALVE_OPENED:
                plant.set_valve(is_open=True)
            case MarkKind.NITROGEN_ON:
                plant.break_with_nitrogen(
                    self._settings.station_pa_abs + self._unit.nitrogen_pa_gauge
                )
            case MarkKind.NITROGEN_OFF:
                plant.shut_nitrogen()
            case MarkKind.LEAK_MENDED:
                self._course.leaks.clear()
                plant.mend_leaks()
            case MarkKind.PROBE_SEEN_TO:
                self._bench.see_to(mark.text)
            case _:
                pass

    def truth(self) -> Mapping[str, float]:
        """Return what is so now at the pump, near and far: pressures, vapour, water and ice."""
        so = self._plant.truth()
        told = {f"{place.name.lower()}_pa_abs": so.pressure_pa_abs[place] for place in _PLACES} | {
            f"{place.name.lower()}_water_pa_abs": so.water_pa_abs[place] for place in _PLACES
        }
        return told | {
            "near_water_kg": so.near_water_kg,
            "far_water_kg": so.far_water_kg,
            "near_ice_share": so.near_ice_share,
            "far_ice_share": so.far_ice_share,
            "near_water_k": so.near_water_k,
            "far_water_k": so.far_water_k,
            "oil_water_kg": so.oil_water_kg,
            "pump_oil_water_kg": so.pump_oil_water_kg,
            "leaked_in_mol": sum(self._plant.leaked_in_mol),
        }

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`; see `SimulatedUnit`."""
        settings, plant = self._settings, self._plant
        pressure = plant.truth().pressure_pa_abs[Place.NEAR]
        vacuum = plant.gauge_pa_abs(self._unit.gauge)
        above = isinstance(vacuum, NoValue)
        truth = {
            Role.LIQUID_PRESSURE: pressure,
            Role.SUCTION_PRESSURE: pressure,
            Role.LIQUID_TEMPERATURE: settings.near_k + self._warmer_k[Place.NEAR],
            Role.SUCTION_TEMPERATURE: settings.far_k + self._warmer_k[Place.FAR],
            Role.OUTDOOR_AIR_TEMPERATURE: settings.air_k,
            Role.RETURN_AIR_TEMPERATURE: settings.far_k,
            Role.VACUUM: settings.gauge.over_pa_abs if isinstance(vacuum, NoValue) else vacuum,
        }
        shown = self._bench.read(truth, t, dt_s)
        for channel in self._channels if above else ():
            if channel.role is Role.VACUUM:
                shown.pop(channel.name, None)
        return shown

    def _change(self, what: Happening, *, begins: bool) -> None:
        plant, settings, place = self._plant, self._settings, Place(what.place)
        if what.leak is None:
            self._warmer_k[place] = what.warmer_k if begins else 0.0
            plant.set_walls(
                near_k=settings.near_k + self._warmer_k[Place.NEAR],
                far_k=settings.far_k + self._warmer_k[Place.FAR],
            )
            return
        plant.mend_leaks()
        for hole in self._course.leaks:
            if hole.leak is not None:
                plant.add_leak(hole.leak, place=Place(hole.place))


def _bench(unit: StageUnit, channels: tuple[Channel, ...]) -> ProbeBench:
    return ProbeBench(channels, unit.probes, unit.silences, unit.settings.station_pa_abs, unit.seed)


class _Change(Protocol):
    def __call__(self, what: Happening, *, begins: bool) -> None: ...


class _Course:
    """What happens to a circuit by itself: each begin and end at its own time.

    Parameters
    ----------
    happenings : sequence of Happening

    Attributes
    ----------
    leaks : list of Happening
        Those that are open.
    """

    def __init__(self, happenings: Sequence[Happening]) -> None:
        turns = [(what.start_s, True, what) for what in happenings]
        turns += [(what.end_s, False, what) for what in happenings]
        # What ends as the next of its kind begins does not end that one too.
        self._turns = sorted(turns, key=lambda turn: turn[:2])
        self.leaks: list[Happening] = []

    def live(
        self,
        t: float,
        run_until: Callable[[float], None],
        change: _Change,
    ) -> None:
        """Advance the circuit to `t` [s]; `change` is told what has begun or ended by then."""
        while self._turns and self._turns[0][0] <= t:
            at_s, begins, what = self._turns.pop(0)
            run_until(at_s)
            if what.leak is not None and begins:
                self.leaks.append(what)
            elif what in self.leaks:
                self.leaks.remove(what)
            change(what, begins=begins)
        run_until(t)
