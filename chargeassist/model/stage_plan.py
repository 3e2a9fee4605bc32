"""What each stage of the job is judged by; each number comes with its source.

What the job file says of its own equipment comes before a profile (`chargeassist.model.limits`).
Nothing is filled in silently: without a number the stage says what is missing and does not judge.
"""

from dataclasses import dataclass, field

from chargeassist.model.channels import Accuracy


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureStep:
    """One step of a staged raise: bring the circuit to a pressure and hold it.

    Attributes
    ----------
    pressure_pa_gauge : float
        [Pa gauge].
    hold_s : float
        [s].
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
        Of rising pressure; the last one is the test itself. Empty if the job gives none; the test
        is then not judged.
    leak_pa_per_h : float or None
        Smallest pressure loss the test must be able to detect; None: it reports what it can detect.
    volume_m3 : float or None
        Of the circuit; expresses a leak as a flow.
    gauge_accuracy, thermometer_accuracy : Accuracy or None
        Limits of error of the instruments that are read by hand; None if not declared.
    """

    steps: tuple[PressureStep, ...] = ()
    leak_pa_per_h: float | None = None
    volume_m3: float | None = None
    gauge_accuracy: Accuracy | None = None
    thermometer_accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrynessPlan:
    """Evacuation and rise test, besides their limits (`chargeassist.model.limits`).

    Attributes
    ----------
    coldest_k : float or None
        Temperature of the coldest part of the circuit, if no probe measures it.
    gauge_accuracy : Accuracy or None
        Limits of error of a vacuum gauge that is read by hand; None if not declared.
    """

    coldest_k: float | None = None
    gauge_accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargingPlan:
    """Instruments the running circuit is read with by hand, where no probe reads it.

    Attributes
    ----------
    gauge_accuracy, suction_gauge_accuracy, thermometer_accuracy : Accuracy or None
        Limits of error of each side's gauge and of the pipe thermometer; None if not declared.
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
        The maker's figure at the test frequency.
    amps_tolerance : float
        Half width as a fraction of it, from the same source; 0 if not given.
    amps_accuracy, voltage_accuracy : Accuracy or None
        Limits of error of meters that are read by hand; None if not declared.
    source : str
    """

    amps_a: float | None = None
    amps_tolerance: float = 0.0
    source: str = ""
    amps_accuracy: Accuracy | None = None
    voltage_accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPlan:
    """The design airflow of the indoor side, and how airflow is measured.

    Attributes
    ----------
    design_m3_per_s : float or None
    source : str
    airflow_accuracy : Accuracy or None
        Limits of error of an airflow that is typed; None if not declared.
    heat_w : float or None
        Heat an electric heater or a furnace adds to the air while the compressor is off.
    heat_accuracy : Accuracy or None
        Limits of error of that heat, or of one that is typed; None if not declared.
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
    """The plans of all stages."""

    tightness: TightnessPlan = field(default_factory=TightnessPlan)
    dryness: DrynessPlan = field(default_factory=DrynessPlan)
    electrical: ElectricalPlan = field(default_factory=ElectricalPlan)
    air: AirPlan = field(default_factory=AirPlan)
    charging: ChargingPlan = field(default_factory=ChargingPlan)
