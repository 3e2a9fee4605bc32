"""What each stage of the job is judged by; each number with the place it was read.

The order of authority is that of `chargeassist.model.limits`: what the job file says of its own
equipment comes before the profile. Nothing is filled in silently: without a number the stage says
what is missing and judges nothing.
"""

from dataclasses import dataclass, field

from chargeassist.model.channels import Accuracy


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureStep:
    """One step of a staged raise: bring the circuit to a pressure, look, hold it for a while.

    Attributes
    ----------
    pressure_pa_gauge, hold_s : float
    source : str
        With its edition and rank, for the screen and the record.
    """

    pressure_pa_gauge: float
    hold_s: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessPlan:
    """The standing pressure test with nitrogen.

    Attributes
    ----------
    steps : tuple of PressureStep
        Rising; the last is the test itself. Empty: the job says nothing, and nothing is judged.
    leak_pa_per_h : float or None
        Pressure loss the test has to be able to see; None: the test reports what it can see.
    volume_m3 : float or None
        Of the circuit, for a leak as a mass flow.
    gauge_accuracy, thermometer_accuracy : Accuracy or None
        Declared limits of the instruments typed readings come from; None when the job does not say.
    """

    steps: tuple[PressureStep, ...] = ()
    leak_pa_per_h: float | None = None
    volume_m3: float | None = None
    gauge_accuracy: Accuracy | None = None
    thermometer_accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrynessPlan:
    """Evacuation and rise test; the limits themselves are those of `chargeassist.model.limits`.

    Attributes
    ----------
    coldest_k : float or None
        Temperature of the coldest part of the circuit, where no probe tells it.
    gauge_accuracy : Accuracy or None
        Declared limits of the vacuum gauge typed readings come from; None when the job does not
        say.
    """

    coldest_k: float | None = None
    gauge_accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargingPlan:
    """What readings of the running circuit are typed from, where no probe takes them.

    Attributes
    ----------
    gauge_accuracy, suction_gauge_accuracy, thermometer_accuracy : Accuracy or None
        Declared limits of the gauge of each side and of the pipe thermometer; None when the job
        does not say.
    source : str
        Where they were read: "data sheet; calibrated 2026-05".
    """

    gauge_accuracy: Accuracy | None = None
    suction_gauge_accuracy: Accuracy | None = None
    thermometer_accuracy: Accuracy | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ElectricalPlan:
    """What the running unit should draw.

    Attributes
    ----------
    amps_a : float or None
        The maker's figure at the frequency of the test.
    amps_tolerance : float
        Share of it, from the same source.
    amps_accuracy, voltage_accuracy : Accuracy or None
        Declared limits of the meters typed readings come from; None when the job does not say.
    source : str
    """

    amps_a: float | None = None
    amps_tolerance: float = 0.0
    source: str = ""
    amps_accuracy: Accuracy | None = None
    voltage_accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPlan:
    """The indoor airflow the system is designed for, and what it can be found with.

    Attributes
    ----------
    design_m3_per_s : float or None
    source : str
    airflow_accuracy : Accuracy or None
        Declared limits of what airflow is measured with; None when the job does not say.
    heat_w : float or None
        What an electric heater or a furnace puts into the air while the compressor stands.
    heat_accuracy : Accuracy or None
        Declared limits of it, or of a heat that is typed; None when the job does not say.
    heat_source : str
    """

    design_m3_per_s: float | None = None
    source: str = ""
    airflow_accuracy: Accuracy | None = None
    heat_w: float | None = None
    heat_accuracy: Accuracy | None = None
    heat_source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StagePlan:
    """All of them."""

    tightness: TightnessPlan = field(default_factory=TightnessPlan)
    dryness: DrynessPlan = field(default_factory=DrynessPlan)
    electrical: ElectricalPlan = field(default_factory=ElectricalPlan)
    air: AirPlan = field(default_factory=AirPlan)
    charging: ChargingPlan = field(default_factory=ChargingPlan)
