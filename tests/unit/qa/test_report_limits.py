"""Every limit of a report has a source; a default of the program says that it is one."""

import pytest

from chargeassist.model.display import UnitSystem
from chargeassist.model.limits import LimitKey
from chargeassist.qa.report_limits import limit_rows
from chargeassist.session.job.jobfile import parse_job

JOB = """
name = "Millrace Lane Library, reading room"
refrigerant = "R-32"
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "charging label"
{target}
[charge]
plate = "2.30 kg"
step_cap = "110 g"
{rest}
[[source]]
url = "serial:/dev/ttyUSB0"
"""


def rows(target: str = "", rest: str = "") -> dict[str, tuple[str, str]]:
    job = parse_job(JOB.format(target=target, rest=rest), "job.toml")
    return {name: (value, source) for name, value, source in limit_rows(job, UnitSystem.SI)}


def test_defaults_are_told_as_such() -> None:
    found = rows()
    assert all(source.strip() for _, source in found.values())
    assert "RA3.2 (2008)" in found["superheat, range"][1]
    assert found["superheat, range"][0] == "2.2 to 13.9 K"
    band = found["settled: still to come no more than"]
    assert band[0] == "0.3 K"
    assert band[1].startswith("default of this program: assumption, no published source")
    assert found["outdoor air"] == (
        "not judged",
        "no profile, and the job file gives no limit for it",
    )
    assert "default of this program" in found["wait after change"][1]


@pytest.mark.parametrize("source", ["unit plate", ""])
def test_guards_name_where_they_were_read(source: str) -> None:
    found = rows(rest=f'[limits]\nliquid_pressure_high = "4.0 MPa(g)"\nsource = "{source}"\n')
    assert found["liquid pressure, highest"][1] == (
        source or "job file, which does not say where it was read"
    )


def test_the_job_s_own_numbers_come_with_their_pages() -> None:
    found = rows(
        'superheat_high = "10 K"\nsuperheat_source = "manual, page 14"\n'
        'approach = "5 K"\napproach_source = "table in the panel"\n',
        'limit = "2.9 kg"\nlimit_source = "room\'s size"\n',
    )
    assert found["superheat, range"] == ("2.2 to 10.0 K", "manual, page 14")
    assert found["approach"][1].startswith("table in the panel; tolerance: default of this program")
    assert found["charge, most the circuit may hold"] == ("2.90 kg", "room's size")


def test_the_makers_table_and_amps_stand_among_the_limits() -> None:
    found = rows(
        rest='[performance]\nsource = "data, page 23"\noutdoor = "85 °F"\nreturn_air = "80 °F"\n'
        'suction_pressure = "0.9 MPa(g)"\nair_split = "10 K"\nair_split_tolerance = "2 K"\n'
        '[electrical]\namps = "11.6 A"\ntolerance = "10 %"\nsource = "service manual"\n'
    )
    assert found["temperature split by the maker's table"] == ("10.0 K ± 2.0 K", "data, page 23")
    assert found["running amps at the frequency of the test"][1] == "service manual"
    assert "suction pressure by the maker's table" in found


def test_what_the_program_counts_by_itself_stands_there_as_its_default() -> None:
    found = rows()
    for key in (
        LimitKey.TIGHTNESS_FALL,
        LimitKey.VACUUM_STEADY_RISE,
        LimitKey.HOLD_WARNING,
        LimitKey.TYPED_LASTS,
    ):
        name = key.words
        assert found[name][1].startswith("default of this program")
        assert "no published source" in found[name][1]
