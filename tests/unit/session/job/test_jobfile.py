"""Job files: what is good is read, what is not is refused with file, key, expected and came."""

import re

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.units import Reference
from chargeassist.session.job import jobfile
from chargeassist.session.job.jobfile import parse_job
from tests.short_job import SHORT_JOB
from tests.unit.session.job.good_job import GOOD, changed


def test_outdoor_air_read_before_the_job_may_stand_in_the_file() -> None:
    assert parse_job(GOOD, "good.toml").site.outdoor_air_k is None
    text = changed('altitude = "210 m"', 'altitude = "210 m"\noutdoor_air = "24 °C"')
    assert parse_job(text, "good.toml").site.outdoor_air_k == pytest.approx(297.15)


def test_everything_said_arrives_in_si() -> None:
    job = parse_job(GOOD, "good.toml")
    assert job.refrigerant == "R-32"
    assert job.units == "us"
    assert job.site.altitude_m == 210.0
    assert job.target.subcooling_k == 5.0
    assert job.charge.step_cap_kg == pytest.approx(0.11)
    # 1 lb = 0.45359237 kg exactly (NIST SP 811, 2008, appendix B.8); 1 oz is a sixteenth of it.
    assert job.charge.weighed_in_kg == pytest.approx((4 + 3 / 16) * 0.45359237)
    assert job.hold.lasts_s == 3600.0
    assert job.guards.liquid_pressure_high_pa_gauge == 4.0e6
    assert job.processing.period_s == 0.5
    (source,) = job.sources
    pressure, temp = (probe.channel for probe in source.probes)
    assert pressure.role is Role.LIQUID_PRESSURE
    assert pressure.reference is Reference.GAUGE
    # 1 psi = 6894.757 Pa (NIST SP 811, 2008, appendix B.8).
    assert pressure.accuracy is not None
    assert pressure.accuracy.absolute_si == pytest.approx(2 * 6894.757)
    assert pressure.high_si == pytest.approx(800 * 6894.757)
    assert temp.accuracy is not None
    assert temp.accuracy.absolute_si == pytest.approx(0.5)
    assert temp.max_age_s == 5.0


def test_the_example_in_the_module_is_a_job() -> None:
    doc = jobfile.__doc__
    assert doc is not None
    example = doc.partition("::\n")[2]
    job = parse_job(re.sub(r"(?m)^    ", "", example), "example")
    assert job.sources[0].probes[0].channel.unit == "psig"


WRONG = [
    # what is replaced, by what, and what the error must say
    ('name = "Millrace Lane Library, reading room"', "", ["bad.toml: name", "missing"]),
    ('name = "Millrace Lane Library, reading room"', 'name = " "', ["name", "nothing"]),
    ('name = "Millrace Lane Library, reading room"', "name = 7", ["name", "quotes", "7 (number)"]),
    ('refrigerant = "R-32"', 'refrigerant = "R-999"', ["bad.toml: refrigerant", "R-999"]),
    ('refrigerant = "R-32"', "", ["refrigerant", "missing"]),
    ('units = "us"', 'units = "uss"', ["units", "si, us", "'uss'"]),
    ('[site]\naltitude = "210 m"', "", ["bad.toml: site", "missing"]),
    ('altitude = "210 m"', "", ["site", "altitude", "barometer"]),
    ('altitude = "210 m"', 'altitude = "210 kg"', ["site.altitude", "length", "kg"]),
    (
        'altitude = "210 m"',
        'altitude = "210 m"\noutdoor_air = "24 K"',
        ["site.outdoor_air", "233.15 to 333.15", "24"],
    ),
    ('altitude = "210 m"', "altitude = 210", ["site.altitude", '"210 m"', "210 (number)"]),
    ('altitude = "210 m"', 'altitude = "99 km"', ["site.altitude"]),
    ('altitude = "210 m"', 'barometer = "98.8 kPag"', ["site.barometer", "gauge"]),
    ('altitude = "210 m"', 'barometer = "14 kPa"', ["site.barometer", "40 to 115 kPa", "14.0"]),
    ('altitude = "210 m"', 'altitude = "1 m"\nbarometer = "98 kPa"', ["site", "either"]),
    ('subcooling = "5.0 K"', 'subcooling = "5.0"', ["target.subcooling", "'5.0'", "unit"]),
    ('subcooling = "5.0 K"', 'subcooling = "99 K"', ["target.subcooling", "0.2 to 40 K", "99 K"]),
    ('subcooling = "5.0 K"', 'subcoolin = "5.0 K"', ["target.subcooling", "missing"]),
    ('tolerance = "0.8 K"', 'tolerance = "0 K"', ["target.tolerance", "0.05 to 10 K"]),
    ('source = "charging label"', 'source = ""', ["target.source", "where", "nothing"]),
    ('source = "charging label"', "", ["target.source", "missing"]),
    (
        'source = "charging label"',
        'source = "x"\nsuperheat_low = "9 K"\nsuperheat_high = "3 K"',
        ["superheat_low"],
    ),
    (
        'source = "charging label"',
        'source = "x"\nsuperheat_low = "-9 K"',
        ["target.superheat_low", "0 to 60 K", "-9 K"],
    ),
    ('plate = "2.30 kg"', 'plate = "2.30 K"', ["charge.plate", "mass", "K"]),
    ('plate = "2.30 kg"', 'plate = "0 kg"', ["charge.plate", "0.05 to 500 kg"]),
    ('step_cap = "110 g"', "step_cap = true", ["charge.step_cap", "got true"]),
    ('weighed_in = "4 lb 3 oz"', 'weighed_in = "-1 kg"', ["charge.weighed_in", "-1 kg"]),
    ('scale_resolution = "5 g"', 'scale_resolution = "0 g"', ["charge.scale_resolution", "0 kg"]),
    ('scale_resolution = "5 g"', 'scale_resolution = "-5 g"', ["charge.scale_resolution"]),
    ('scale_resolution = "5 g"', 'scale_resolution = "500 g"', ["scale_resolution", "step_cap"]),
    ('scale_resolution = "5 g"', 'scale_resolutoin = "5 g"', ["did you mean 'scale_resolution'"]),
    ('required = "72 Hz"', 'required = "72"', ["frequency.required", "unit"]),
    ('required = "72 Hz"', 'required = "1 Hz"', ["frequency.required", "5 to 500 Hz", "1 Hz"]),
    ('hold_lasts = "60 min"', 'hold_lasts = "-1 min"', ["frequency.hold_lasts", "-60 s"]),
    ('hold_lasts = "60 min"', 'tolerance = "-1 Hz"', ["frequency.tolerance", "-1 Hz"]),
    (
        'liquid_pressure_high = "4.0 MPa(g)"',
        'liquid_pressure_high = "4.0 MPa(a)"',
        ["limits.liquid_pressure_high", "gauge", "4.0 MPa(a)"],
    ),
    (
        'liquid_pressure_high = "4.0 MPa(g)"',
        'liquid_pressure_high = "580 psi"',
        ["limits.liquid_pressure_high", "gauge or absolute"],
    ),
    ('current_high = "16 A"', 'current_hihg = "16 A"', ["limits.current_hihg", "current_high"]),
    ('period = "0.5 s"', 'period = "60 s"', ["processing.period", "0.2 to 10 s", "60 s"]),
    ('period = "0.5 s"', 'minimum_wait = "2 h"', ["processing.minimum_wait", "3600"]),
    ('period = "0.5 s"', 'settled_band = "9 K"', ["processing.settled_band", "0.1 to 2 K"]),
    ('url = "serial:/dev/ttyUSB0?baud=115200"', "", ["source[1].url", "missing"]),
    ('url = "serial:/dev/ttyUSB0?baud=115200"', 'url = "/dev/tty\\u001b"', ["url", "address"]),
    ('format = "csv"', 'format = "cvs"', ["source[1].format", "did you mean 'csv'"]),
    (
        'altitude = "210 m"',
        'altitude = "210 m"\nplace = "Roof"',
        ["site.place", "(did you mean 'roof'?)"],
    ),
    (
        'role = "liquid_temperature"',
        'role = "liquid_temp"',
        ["source[1].probe[2].role", "(did you mean 'liquid_temperature'?)"],
    ),
    (
        'altitude = "210 m"',
        'barometer = "14.3 psig"',
        ["site.barometer", "absolute", 'such as "98.8 kPa" or "29.2 inHg"'],
    ),
    (
        'liquid_pressure_high = "4.0 MPa(g)"',
        'liquid_pressure_high = "580"',
        ["limits.liquid_pressure_high", "'580' has no unit"],
    ),
    (
        'accuracy = "2 psi"',
        'accuracy = "0.5 %"',
        ["probe[1].accuracy", '"0.5 % of reading" or "0.5 % of 800 psi"', "'0.5 %'"],
    ),
    (
        'accuracy = "2 psi"',
        'accuracy = "0.5 % FS"',
        ["probe[1].accuracy", '"0.5 % of reading" or "0.5 % of 800 psi"', "'0.5 % FS'"],
    ),
    (
        'format = "csv"',
        "options = { delimiter = 3 }",
        ["source[1].options.delimiter", "a value (number, not shown)"],
    ),
    ('format = "csv"', "options = 3", ["source[1].options", "table"]),
    ('role = "liquid_pressure"', 'role = "liqiud_pressure"', ["probe[1].role", "liquid_pressure'"]),
    ('role = "liquid_pressure"', "", ["source[1].probe[1].role", "missing"]),
    ('role = "liquid_pressure"', 'role = "liquid_temperature"', ["unit", "psig"]),
    ('unit = "psig"', 'unit = "psi"', ["source[1].probe[1].unit", "gauge or absolute", "'psi'"]),
    ('unit = "psig"', 'unit = "psig"\nreference = "absolute"', ["probe[1].reference", "gauge"]),
    ('unit = "psig"', "", ["source[1].probe[1].unit", "missing"]),
    ('unit = "°F"', 'unit = "°F"\nreference = "gauge"', ["probe[2].reference", "'gauge'"]),
    ('accuracy = "2 psi"', 'accuracy = "2 K"', ["probe[1].accuracy", "K"]),
    ('accuracy = "2 psi"', 'accuracy = "0 psi"', ["probe[1].accuracy", "above zero"]),
    ('accuracy = "2 psi"', 'accuracy = "1.2.3 % of reading"', ["probe[1].accuracy", "1.2.3"]),
    ('low = "0 psig"', 'low = "14.7 psia"', ["probe[1].low", "gauge", "14.7 psia"]),
    ('low = "0 psig"', 'low = "900 psig"', ["probe[1].low", "less than high"]),
    ('max_age = "5 s"', 'max_age = "0 s"', ["probe[2].max_age", "0.5 to 600 s", "0 s"]),
    ('max_age = "5 s"', 'max_age = "-5 s"', ["probe[2].max_age", "-5 s"]),
    ('max_age = "5 s"', 'scale = "2"', ["probe[2].scale", "number", "'2' (text)"]),
    ('max_age = "5 s"', "scale = inf", ["probe[2].scale", "finite", "inf"]),
    ('max_age = "5 s"', "offset = nan", ["probe[2].offset", "finite", "nan"]),
    ('max_age = "5 s"', 'name = "liquid_pressure"', ["probe[2].name", "no other probe"]),
    ('max_age = "5 s"', 'name = "Größe"', ["probe[2].name", "a-z 0-9 _"]),
    ('accuracy = "2 psi"', 'accuracy = ""', ["probe[1].accuracy", "an empty one"]),
    ('accuracy = "2 psi"', 'accuracy = "250 % of reading"', ["accuracy", "100 % at most"]),
    ('accuracy = "2 psi"', 'accuracy = "1e305 MPa"', ["accuracy", "can have", "1e305 MPa"]),
    ('high = "800"', 'high = "1e305 MPa(g)"', ["probe[1].high", "can have"]),
    ('low = "0 psig"', 'low = ""', ["probe[1].low", "an empty one"]),
    ('max_age = "5 s"', "scale = 0", ["probe[2].scale", "multiplied by", "got 0"]),
    ('max_age = "5 s"', "scale = 1e11", ["sources.probes.scale", "1e+10"]),
    ('required = "72 Hz"', "", ["frequency.required", "beside hold_lasts", "none"]),
    (
        "[limits]",
        '[tightness]\nsource = "page 2"\nsteps = []\n[limits]',
        ["tightness.steps", "expected texts such as"],
    ),
    (
        "[limits]",
        '[conditions]\nsource = "page 2"\noutdoor_low = ""\n[limits]',
        ["conditions.outdoor_low", "an empty one"],
    ),
    (
        "[limits]",
        '[overrides]\nsource = "rule 7"\noutdoor_low = "60 °C"\n[limits]',
        ["overrides.outdoor_low", "-50 to 55 °C", "'60 °C'"],
    ),
    (
        "[limits]",
        '[overrides]\nsource = "rule 7"\ncylinder_fill = "800 %"\n[limits]',
        ["overrides.cylinder_fill", "100 % at most", "'800 %'"],
    ),
    (
        "[limits]",
        '[overrides]\nsource = "rule 7"\nwait_after_change = "30 d"\n[limits]',
        ["bad.toml", "processing.minimum_wait_s", "0 to 86400"],
    ),
    (
        "[limits]",
        '[overrides]\nsource = "rule 7"\ncalibration_age = "1e9 d"\n[limits]',
        ["bad.toml", "limit calibration_age", "got 8.64e+13"],
    ),
    (
        "[limits]",
        '[overrides]\nsource = "rule 7"\nindoor_low = "90 °F"\nindoor_high = "80 °F"\n[limits]',
        ["overrides.indoor_low", "less than indoor_high", "90 °F"],
    ),
]


@pytest.mark.parametrize(("old", "new", "words"), WRONG, ids=[f"{w[1][:40]!r}" for w in WRONG])
def test_an_error_names_file_key_expected_and_came(old: str, new: str, words: list[str]) -> None:
    with pytest.raises(ConfigError) as got:
        parse_job(changed(old, new), "bad.toml")
    text = str(got.value)
    assert text.startswith("bad.toml")
    for word in words:
        assert word in text
    assert "\x1b" not in text


def test_bare_psi_is_read_where_the_file_says_what_it_counts_from() -> None:
    job = parse_job(changed('unit = "psig"', 'unit = "psi"\nreference = "gauge"'), "x")
    assert job.sources[0].probes[0].channel.reference is Reference.GAUGE


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('liquid_pressure_high = "-4.0 MPa(g)"', "expected 0.2 to 20 MPa(g), got '-4.0 MPa(g)'"),
        ('liquid_pressure_high = "40 kPa(g)"', "expected 0.2 to 20 MPa(g), got '40 kPa(g)'"),
        ('suction_pressure_low = "-2 MPa(g)"', "expected -0.1 to 5 MPa(g), got '-2 MPa(g)'"),
        ('discharge_temperature_high = "110 K"', "expected 313.15 to 473.15 K, got '110 K'"),
        ('current_high = "0 A"', "expected 0.1 to 2000 A, got '0 A'"),
        (
            'suction_pressure_low = "4.5 MPa(g)"\nliquid_pressure_high = "4.0 MPa(g)"',
            "suction_pressure_low: expected less than liquid_pressure_high, 4 MPa(g)",
        ),
    ],
)
def test_a_limit_that_no_plate_names_is_refused(line: str, says: str) -> None:
    text = f"by_hand = true\n{SHORT_JOB}[limits]\n{line}\n"
    with pytest.raises(ConfigError, match=re.escape(says)):
        parse_job(text, "x")


BAROMETER_PROBE = """
[[source.probe]]
role = "barometer"
select = "9"
unit = "{unit}"
"""


@pytest.mark.parametrize("unit", ["hPa", "kPaa", "inHg", "mbar"])
def test_a_barometer_is_absolute_by_nature(unit: str) -> None:
    job = parse_job(GOOD + BAROMETER_PROBE.format(unit=unit), "x")
    (channel,) = [
        p.channel for s in job.sources for p in s.probes if p.channel.role is Role.BAROMETER
    ]
    assert channel.counted_from is Reference.ABSOLUTE


@pytest.mark.parametrize("unit", ["kPag", "psig", "inHg vac"])
def test_a_barometer_that_counts_from_the_air_it_measures_is_refused(unit: str) -> None:
    with pytest.raises(ConfigError, match="expected an absolute one such as hPa or inHg"):
        parse_job(GOOD + BAROMETER_PROBE.format(unit=unit), "x")


VACUUM_PROBE = """
[[source.probe]]
role = "vacuum"
select = "3"
unit = "{unit}"
accuracy = "2 Pa + 5 % of reading"
"""


@pytest.mark.parametrize("unit", ["micron", "Pa", "mbar"])
def test_a_vacuum_gauge_counts_from_nothing(unit: str) -> None:
    job = parse_job(GOOD + VACUUM_PROBE.format(unit=unit), "x")
    channel = job.sources[0].probes[2].channel
    assert channel.role is Role.VACUUM
    assert channel.reference is Reference.ABSOLUTE
    assert channel.accuracy is not None
    assert channel.accuracy.half_width(100.0) == pytest.approx(7.0)


def test_a_vacuum_gauge_that_counts_from_the_atmosphere_is_refused() -> None:
    with pytest.raises(ConfigError, match=r"probe\[3\].unit: expected an absolute one such as mic"):
        parse_job(GOOD + VACUUM_PROBE.format(unit="psig"), "x")


def test_accuracy_is_a_sum_of_limits() -> None:
    text = changed('accuracy = "2 psi"', 'accuracy = "± 1 psi + 0.5 % of 800 psi + 1 % of reading"')
    accuracy = parse_job(text, "x").sources[0].probes[0].channel.accuracy
    assert accuracy is not None
    assert accuracy.absolute_si == pytest.approx(5 * 6894.757)
    assert accuracy.relative == pytest.approx(0.01)


@pytest.mark.parametrize("number", ["true", "1.0", "2", '"1"'])
def test_phases_are_a_whole_number(number: str) -> None:
    with pytest.raises(ConfigError, match=r"plate.phases: expected 1 or 3"):
        parse_job(f'{GOOD}\n[plate]\nphases = {number}\nsource = "unit plate"\n', "x")


@pytest.mark.parametrize("written", ["-2 psi", "1 % of reading + -2 psi"])
def test_an_accuracy_below_zero_is_refused(written: str) -> None:
    with pytest.raises(ConfigError, match=r"accuracy: expected .*got '"):
        parse_job(changed('accuracy = "2 psi"', f'accuracy = "{written}"'), "x")


def test_a_resolution_below_zero_is_refused() -> None:
    text = changed('accuracy = "2 psi"', 'resolution = "-0.1 psi"')
    with pytest.raises(ConfigError, match=r"resolution: expected a size from 0, got '-0.1 psi'"):
        parse_job(text, "x")


@pytest.mark.parametrize(
    ("table", "said"),
    [
        (
            '[electrical]\ntolerance = "90 %"',
            r"electrical.tolerance: expected 0 to 0.5, got '90 %', which is 0.9$",
        ),
        (
            '[dryness]\ncoldest = "200 °F"',
            r"dryness.coldest: expected 223.15 to 328.15 K, got '200 °F', which is 366.48 K$",
        ),
        (
            '[plate]\nhigh_side = "2 MPa(g)"\nlow_side = "3 MPa(g)"\nsource = "plate"',
            r"low_side: expected no more than high_side, 2 MPa\(g\), got 3 MPa\(g\)$",
        ),
        (
            '[plate]\nhigh_side = "2 psig"\nsource = "plate"',
            r"high_side: expected 0.2 to 20 MPa\(g\), got '2 psig', which is 0.01379 MPa\(g\)$",
        ),
    ],
)
def test_a_number_out_of_bounds_is_shown_as_it_was_written(table: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        parse_job(f"{GOOD}\n{table}\n", "x")


def test_a_job_without_a_source_and_a_source_twice_are_refused() -> None:
    alone = GOOD[: GOOD.index("[[source]]")]
    with pytest.raises(ConfigError, match=r"source: expected at least one \[\[source\]\]"):
        parse_job(alone, "x")
    with pytest.raises(ConfigError, match=r"source\[2\].name: expected a name no other source"):
        parse_job(GOOD + '\n[[source]]\nname = "port"\nurl = "mqtt://h"\n', "x")
    again = GOOD + '\n[[source]]\nurl = "mqtt://h"\n[[source.probe]]\nrole = "liquid_pressure"\n'
    with pytest.raises(ConfigError, match=r"source\[2\].probe\[1\].role: expected a role no"):
        parse_job(again, "x")
