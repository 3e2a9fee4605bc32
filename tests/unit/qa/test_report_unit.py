"""What the report says of the unit: the reader's units, and every line the job file may give."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from chargeassist.model.display import UnitSystem
from chargeassist.model.installation import LineSet, Plate
from chargeassist.model.units import METRE_PER_FOOT, METRE_PER_INCH
from chargeassist.qa.report_table import NOT_SAID
from chargeassist.qa.report_unit import unit_facts
from chargeassist.session.job.demo import demo_job

JOB = demo_job("library")
LINE = LineSet(
    length_m=50.0 * METRE_PER_FOOT,
    lift_m=10.0 * METRE_PER_FOOT,
    liquid_diameter_m=0.375 * METRE_PER_INCH,
    suction_diameter_m=0.75 * METRE_PER_INCH,
)


def test_a_line_set_is_told_in_the_readers_units() -> None:
    job = replace(JOB, line_set=LINE)
    said = {system: dict(unit_facts(job, None, system))["Line set"] for system in UnitSystem}
    assert said[UnitSystem.US] == "50.0 ft, 10.0 ft of height; liquid 0.375 in, suction 0.75 in"
    assert said[UnitSystem.SI] == "15.2 m, 3.0 m of height; liquid 9.525 mm, suction 19.05 mm"
    bare = replace(LINE, liquid_diameter_m=None, suction_diameter_m=None)
    facts = dict(unit_facts(replace(JOB, line_set=bare), None, UnitSystem.SI))
    assert facts["Line set"] == "15.2 m, 3.0 m of height"
    assert "Line set" not in dict(unit_facts(replace(JOB, line_set=None), None, UnitSystem.SI))


def test_the_plate_is_told_as_far_as_the_job_gives_it() -> None:
    plate = Plate(
        high_side_pa_gauge=4.15e6,
        low_side_pa_gauge=2.5e6,
        rated_load_a=12.0,
        minimum_circuit_a=16.5,
        voltage_v=230.0,
        source="plate",
    )
    facts = dict(unit_facts(replace(JOB, plate=plate), None, UnitSystem.SI))
    assert facts["Design pressure, high side"] == "4150 kPa gauge"
    assert facts["Design pressure, low side"] == "2500 kPa gauge"
    assert facts["Rated-load amps"] == "12.00 A"
    assert facts["Minimum circuit ampacity"] == "16.50 A"
    assert facts["Rated voltage"] == "230.0 V"
    bare = dict(unit_facts(replace(JOB, plate=Plate()), None, UnitSystem.SI))
    assert not {"Rated-load amps", "Minimum circuit ampacity"} & bare.keys()


def test_nothing_measured_yet_is_not_said_to_be_zero() -> None:
    facts = dict(unit_facts(JOB, None, UnitSystem.SI))
    assert facts["In the circuit at the end"] == NOT_SAID
    assert facts["CO2 equivalent at the end"] == NOT_SAID


def test_the_charge_of_a_refrigerant_that_hardly_warms_is_not_told_as_zero_tonnes() -> None:
    """Regulation (EU) No 517/2014: R-290 is 3 (from memory), R-32 is 675; 0.3 kg are 0.9 kg."""
    last: Any = SimpleNamespace(facts=SimpleNamespace(total_kg=0.3))
    said = {
        name: dict(unit_facts(replace(JOB, refrigerant=name), last, UnitSystem.SI))[
            "CO2 equivalent at the end"
        ].partition(":")[0]
        for name in ("R-290", "R-744", "R-32")
    }
    assert said == {"R-290": "0.9 kg", "R-744": "0.3 kg", "R-32": "0.20 t"}
