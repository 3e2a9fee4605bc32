"""The tables of a job file for the stages before and after the charge; the unit is invented."""

import pytest

from chargeassist.model.channels import Accuracy
from chargeassist.model.errors import ConfigError
from chargeassist.model.installation import SafetyGroup, ShortLine
from chargeassist.model.job import Job
from chargeassist.model.limits import Authority, LimitKey
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.record.codec import job_from_json, job_to_json

PSI_PA = 6894.757  # NIST SP 811 (2008), appendix B.8
MICRON_PA = 101_325.0 / 760_000.0  # one millitorr

HEAD = """
name = "invented"
refrigerant = "R-32"
{head}
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "charging label"
[charge]
plate = "2.30 kg"
step_cap = "110 g"
{tables}
[[source]]
url = "serial:/dev/ttyUSB0"
[[source.probe]]
role = "liquid_pressure"
unit = "psig"
"""

PLATE = """
[plate]
safety_group = "A2L"
high_side = "4.2 MPa(g)"
low_side = "350 psig"
rated_load = "14.2 A"
minimum_circuit = "19 A"
voltage = "230 V"
phases = 1
capacity = "3 tons"
room_area = "12 m2"
source = "unit plate"
"""

REST = """
[line_set]
length = "40 ft"
lift = "-3 m"
included = "25 ft"
liquid_diameter = "3/8 in"
suction_diameter = "1-1/8 in"
adder = "0.6 oz/ft"
adder_source = "installation manual, page 18"
short_line = "take out"
metering = "indoor"
[cylinder]
tare = "5.9 kg"
water_capacity = "26 lb"
gross = "13.2 kg"
[crew]
certificate = "U-0000"
company = "of our own"
[tightness]
steps = ["50 psig for 3 min", "350 psig for 1 h"]
source = "installation manual, page 11"
volume = "4.2 L"
leak = "1 psi/h"
[dryness]
target = "500 micron"
rise_time = "20 min"
source = "installation manual, page 12"
coldest = "12 °C"
[electrical]
amps = "11.6 A"
tolerance = "10 %"
source = "service manual, table 4"
[air]
design = "1050 cfm"
source = "duct design"
"""


def job(tables: str, head: str = "") -> Job:
    return parse_job(HEAD.format(head=head, tables=tables), "job.toml")


def test_everything_that_is_typed_is_read() -> None:
    read = job(PLATE + REST)
    plate, line, plan = read.plate, read.line_set, read.stages
    assert plate.safety_group is SafetyGroup.A2L
    assert plate.safety_group.burns
    assert plate.high_side_pa_gauge == 4.2e6
    assert plate.low_side_pa_gauge == pytest.approx(350 * PSI_PA)
    assert (plate.rated_load_a, plate.minimum_circuit_a, plate.voltage_v) == (14.2, 19.0, 230.0)
    assert plate.capacity_w == pytest.approx(3 * 3516.853)  # NIST SP 811, appendix B.8
    assert (plate.phases, plate.room_area_m2) == (1, 12.0)
    assert line is not None
    assert line.length_m == pytest.approx(12.192)
    assert line.lift_m == -3.0
    assert line.liquid_diameter_m == pytest.approx(9.525e-3)
    assert line.suction_diameter_m == pytest.approx(28.575e-3)
    # 0.6 oz/ft is 0.0558 kg/m; one manual prints .018 (a slip).
    assert line.adder_kg_per_m == pytest.approx(0.0558, abs=5e-5)
    assert line.short_line is ShortLine.TAKE_OUT
    assert read.cylinder.water_capacity_kg == pytest.approx(26 * 0.45359237)
    assert read.crew.certificate == "U-0000"
    assert [step.hold_s for step in plan.tightness.steps] == [180.0, 3600.0]
    assert plan.tightness.steps[-1].pressure_pa_gauge == pytest.approx(350 * PSI_PA)
    assert plan.tightness.steps[0].source.startswith("installation manual, page 11")
    assert plan.tightness.leak_pa_per_h == pytest.approx(PSI_PA)
    assert plan.tightness.volume_m3 == pytest.approx(0.0042)
    assert plan.dryness.coldest_k == pytest.approx(285.15)
    assert plan.electrical.amps_a == 11.6
    assert plan.electrical.amps_tolerance == pytest.approx(0.1)
    assert plan.air.design_m3_per_s == pytest.approx(0.49554, abs=1e-5)
    target = read.limit(LimitKey.VACUUM_TARGET)
    assert target is not None
    assert target.value_si == pytest.approx(500 * MICRON_PA)
    assert target.authority is Authority.EQUIPMENT
    assert target.source == "installation manual, page 12"
    assert job_from_json(job_to_json(read)) == read


def test_nothing_typed_is_nothing_known() -> None:
    read = job("")
    assert read.plate.high_side_pa_gauge is None
    assert read.plate.safety_group is None
    assert read.line_set is None
    assert read.stages.tightness.steps == ()
    assert read.limit(LimitKey.VACUUM_TARGET) is None


def test_what_the_equipment_says_comes_before_the_profile() -> None:
    head = 'profile = ["california-installer", "evacuation-250-15"]'
    read = job('[dryness]\ntarget = "400 micron"\nsource = "manual, page 9"\n', head)
    target, rise = read.limit(LimitKey.VACUUM_TARGET), read.limit(LimitKey.VACUUM_RISE_LIMIT)
    assert target is not None
    assert rise is not None
    assert (target.as_written, target.source) == ("400 micron", "manual, page 9")
    assert rise.as_written == "700 micron"
    assert read.profile == "california-installer + evacuation-250-15"
    assert read.limit(LimitKey.OUTDOOR_LOW) is not None


def test_a_profile_s_raise_ends_at_the_plate_s_lower_side() -> None:
    steps = job(PLATE, 'profile = "tightness-three-stage"').stages.tightness.steps
    assert [round(step.pressure_pa_gauge / 1e6, 3) for step in steps] == [0.3, 1.5, 2.413]
    assert [step.hold_s for step in steps] == [180.0, 180.0, 86_400.0]
    assert "unit plate (plate)" in steps[-1].source


def test_without_a_plate_pressure_no_test_pressure_is_made_up() -> None:
    assert job("", 'profile = "tightness-three-stage"').stages.tightness.steps == ()


REFUSED = [
    (
        '[tightness]\nthermometer_accuracy = "1 % of reading"',
        ["thermometer_accuracy", "0.5 K", "which scale", "1 % of reading"],
    ),
    ('[plate]\nvoltage = "230 V"\n', ["plate.source", "nothing"]),
    (PLATE.replace("phases = 1", "phases = 2"), ["plate.phases", "1 or 3", "2"]),
    (PLATE.replace("4.2 MPa(g)", "4.2 MPa"), ["plate.high_side", "gauge or absolute"]),
    (PLATE.replace("4.2 MPa(g)", "2 MPa(g)"), ["plate.low_side", "no more than high_side"]),
    (PLATE.replace("A2L", "A2l"), ["plate.safety_group", "A2L", "did you mean"]),
    ('[line_set]\nlift = "3 m"\n', ["line_set.length", "missing"]),
    ('[line_set]\nlength = "12 m"\nliquid_diameter = "3/0 in"\n', ["liquid_diameter", "3/8 in"]),
    ('[line_set]\nlength = "12 m"\nadder = "0.6 oz/ft"\n', ["adder_source", "nothing"]),
    ('[line_set]\nlength = "12 m"\nadder = "60 oz/ft"\nadder_source = "x"\n', ["adder", "kg/m"]),
    ('[cylinder]\ntare = "6 kg"\ngross = "5 kg"\n', ["cylinder.gross", "at least the tare"]),
    ('[tightness]\nsteps = ["1 MPa(g) for 3 min"]\n', ["tightness.source", "nothing"]),
    ('[tightness]\nsteps = "1 MPa(g)"\nsource = "m"\n', ["tightness.steps", "texts such as"]),
    ('[tightness]\nsteps = ["1 MPa(g)"]\nsource = "m"\n', ["steps", "1.5 MPa(g) for 3 min"]),
    ('[tightness]\nsteps = ["1 MPa(a) for 3 min"]\nsource = "m"\n', ["steps", "gauge"]),
    (
        '[tightness]\nsteps = ["1 MPa(g) for 3 min", "0.5 MPa(g) for 3 min"]\nsource = "m"\n',
        ["steps", "each step above"],
    ),
    (
        # The weaker side counts: 350 psig are 2.41 MPa(g), though the other takes 4.2 MPa(g).
        PLATE + '[tightness]\nsteps = ["3 MPa(g) for 3 min"]\nsource = "m"\n',
        ["steps", "weaker side, 2.41 MPa(g)", "3.00 MPa(g)"],
    ),
    ('[tightness]\nleak = "1 psi"\n', ["tightness.leak", "1 psi/h"]),
    ('[dryness]\ntarget = "500 micron"\n', ["dryness.source", "nothing"]),
    ('[dryness]\ntarget = "500 psia"\nsource = "m"\n', ["dryness.target", "37 500 micron"]),
    ('[dryness]\ntaret = "500 micron"\nsource = "m"\n', ["dryness.taret", "did you mean"]),
    ('[electrical]\namps = "11 A"\n', ["electrical.source", "nothing"]),
    ('[air]\ndesign = "1050 cfm"\n', ["air.source", "nothing"]),
    ('[air]\ndesign = "1050"\nsource = "x"\n', ["air.design", "no unit"]),
]


@pytest.mark.parametrize(("tables", "words"), REFUSED)
def test_what_cannot_be_used_is_refused_with_its_key(tables: str, words: list[str]) -> None:
    with pytest.raises(ConfigError) as raised:
        job(tables)
    for word in words:
        assert word in str(raised.value), str(raised.value)


def test_an_unknown_profile_in_a_list_is_named() -> None:
    with pytest.raises(ConfigError, match="did you mean 'evacuation-500-20'"):
        job("", 'profile = ["evacuation-50-20"]')


def test_the_instruments_readings_are_typed_from_are_declared_like_probes() -> None:
    tables = (
        '[tightness]\ngauge_accuracy = "0.2 bar"\nthermometer_accuracy = "0.5 K"\n'
        '[dryness]\ngauge_accuracy = "10 % of reading"\n'
    )
    found = parse_job(HEAD.format(head="", tables=tables), "job.toml")
    tightness, dryness = found.stages.tightness, found.stages.dryness
    assert tightness.gauge_accuracy == Accuracy(absolute_si=20e3)
    assert tightness.thermometer_accuracy == Accuracy(absolute_si=0.5)
    assert dryness.gauge_accuracy == Accuracy(absolute_si=0.0, relative=0.1)
    assert job_from_json(job_to_json(found)) == found


def test_a_job_without_any_probe_says_that_everything_is_typed() -> None:
    bare = HEAD[: HEAD.index("[[source]]")]
    with pytest.raises(ConfigError, match="by_hand = true where every reading is typed"):
        parse_job(bare.format(head="", tables=""), "job.toml")
    found = parse_job(bare.format(head="by_hand = true", tables=""), "job.toml")
    assert found.sources == ()
