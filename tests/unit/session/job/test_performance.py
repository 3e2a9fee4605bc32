"""A column of the maker's table in a job file: what is read, what is refused."""

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.performance import Performance
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.record.codec import job_from_json, job_to_json

PSI = 6894.757293168361
COLUMN = """
source = "performance data, page 23"
outdoor = "85 °F"
return_air = "80 °F"
liquid_pressure = "340 psig"
suction_pressure = "135 psig"
air_split = "19 °F"
"""


def read(text: str) -> Performance | None:
    job = parse_job(
        f"""
name = "invented"
refrigerant = "R-410A"
[site]
altitude = "0 m"
[target]
subcooling = "5 K"
tolerance = "1 K"
source = "invented"
[charge]
plate = "3.0 kg"
step_cap = "110 g"
[[source]]
url = "simulator:?seed=1"
{text}
""",
        "job.toml",
    )
    assert job_from_json(job_to_json(job)) == job
    return job.performance


def test_a_column_is_read_with_what_the_maker_allows() -> None:
    found = read(f"[performance]{COLUMN}")
    assert found is not None
    assert found.outdoor_k == pytest.approx((85.0 - 32.0) / 1.8 + KELVIN_AT_0_C)
    assert found.liquid_pressure_pa_gauge == pytest.approx(340.0 * PSI)
    # Printed beside such tables: plus or minus 10 and 5 psi.
    assert found.liquid_tolerance_pa == pytest.approx(10.0 * PSI)
    assert found.suction_tolerance_pa == pytest.approx(5.0 * PSI)
    own = read(f'[performance]{COLUMN}suction_pressure_tolerance = "4 psi"')
    assert own is not None
    assert own.suction_tolerance_pa == pytest.approx(4.0 * PSI)


def test_a_job_without_a_table_has_none() -> None:
    assert read("") is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('outdoor = "85 °F"\nliquid_pressure = "340 psig"', "source: expected where"),
        ('source = "s"\noutdoor = "85 °F"', "expected at least one of liquid_pressure"),
        ('source = "s"\nliquid_pressure = "340 psig"', "outdoor: expected a temperature"),
        (
            'source = "s"\noutdoor = "85 °F"\nsuction_pressure = "135 psig"',
            "return_air: expected a temperature",
        ),
        (
            COLUMN.replace("135 psig", "345 psig"),
            "suction_pressure: expected less than liquid_pressure",
        ),
        (COLUMN.replace("85 °F", "85 °C"), "outdoor: expected"),
        (COLUMN.replace("340 psig", "340 psi"), "liquid_pressure"),
        (COLUMN + 'liquid_pressure_tolerance = "10 K"', "liquid_pressure_tolerance: expected"),
        (COLUMN + 'liquid_pressure_tolerance = "900 psi"', "liquid_pressure_tolerance: expected"),
    ],
)
def test_what_cannot_be_is_refused(text: str, expected: str) -> None:
    with pytest.raises(ConfigError, match=expected):
        read(f"[performance]\n{text}")
