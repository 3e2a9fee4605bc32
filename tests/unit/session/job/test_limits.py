"""The limits of a job file: its profile, its own conditions, and which of them counts.

What the shipped profiles say is checked against their sources in tests/reference; here it is only
carried. Jobs and manuals are invented.
"""

import re
from pathlib import Path

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import Job
from chargeassist.model.limits import Authority, Limit, LimitKey, Method
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.jobfile import load_job, parse_job
from chargeassist.session.job.limits import CONDITIONS, shipped_profiles
from chargeassist.session.record.codec import job_from_json, job_to_json

F = 5.0 / 9.0
LB_KG = 0.45359237  # NIST SP 811 (2008), appendix B.8


def text(
    head: str = "", conditions: str = "", target: str = 'tolerance = "0.8 K"',
    charge: str = 'step_cap = "110 g"', more: str = "",
) -> str:  # fmt: skip
    """Return an invented job file."""
    table = f"[conditions]\n{conditions}\n" if conditions else ""
    return f"""
name = "invented"
refrigerant = "R-32"
{head}
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
source = "charging label"
{target}
[charge]
plate = "2.30 kg"
{charge}
{table}{more}
[[source]]
name = "port"
url = "serial:/dev/ttyUSB0"
format = "csv"
[[source.probe]]
role = "liquid_pressure"
select = "1"
unit = "psig"
[[source.probe]]
role = "liquid_temperature"
select = "2"
unit = "°F"
"""


def job(**parts: str) -> Job:
    return parse_job(text(**parts), "job.toml")


def refused(**parts: str) -> str:
    with pytest.raises(ConfigError) as raised:
        job(**parts)
    message = str(raised.value)
    assert message.startswith("job.toml: ")
    return message


SOURCE = 'source = "installation manual, page 12"\n'
INSTALLER = 'profile = "california-installer"'
HOUSE = 'profile = "house-default"'


def limit(found: Job, key: LimitKey) -> Limit:
    one = found.limit(key)
    assert one is not None, key
    return one


def test_a_job_without_either_has_the_programs_own_wait_and_says_whose_it_is() -> None:
    plain = job()
    assert (plain.profile, plain.role) == ("", "")
    assert dict(USUAL) == {each.key: each for each in plain.limits if each.key in USUAL}
    wait, final = (each for each in plain.limits if each.key not in USUAL)
    assert (wait.key, wait.value_si) == (LimitKey.WAIT_AFTER_CHANGE, 60.0)
    assert (final.key, final.value_si) == (LimitKey.FINAL_HOLD, 300.0)
    assert wait.citation == final.citation == "default of this program (rule of thumb)"
    assert plain.processing.minimum_wait_s == 60.0


def test_a_profile_brings_every_one_of_its_limits_with_its_source() -> None:
    found = job(head=INSTALLER)
    profile = shipped_profiles()["california-installer"]
    assert found.profile == "california-installer"
    by_key = {each.key: each for each in found.limits}
    assert by_key.pop(LimitKey.FINAL_HOLD).source == "default of this program"
    assert by_key == dict(USUAL) | dict(profile.limits)
    # RA3.2.1.1(d), 2013 edition: 55 °F.
    outdoor = limit(found, LimitKey.OUTDOOR_LOW)
    assert outdoor.value_si == pytest.approx((55.0 + 459.67) / 1.8)
    assert outdoor.citation == (
        "California Title 24, Reference Residential Appendix RA3.2.1.1(d), 2013 "
        "(adopted local code)"
    )


def test_what_the_job_leaves_open_is_taken_from_the_profile() -> None:
    found = job(head=HOUSE, target="", charge="", more='[frequency]\nrequired = "72 Hz"\n')
    assert found.target.tolerance_k == pytest.approx(3.0 * F)
    assert found.target.superheat_low_k == pytest.approx(4.0 * F)
    assert found.target.superheat_high_k == pytest.approx(25.0 * F)
    assert found.target.superheat_source == limit(found, LimitKey.SUPERHEAT_HIGH).citation
    assert found.charge.step_cap_kg == pytest.approx(0.25 * LB_KG)
    assert found.processing.minimum_wait_s == 300.0
    assert found.hold.tolerance_hz == 1.0
    verifier = job(head='profile = "california-verifier"', target="")
    assert verifier.target.tolerance_k == pytest.approx(4.0 * F)
    assert verifier.target.superheat_low_k == pytest.approx(3.0 * F)
    assert verifier.target.superheat_high_k == pytest.approx(26.0 * F)
    charge_mode = job(head='profile = "maker-charge-mode"', more='[frequency]\nrequired="72 Hz"\n')
    assert charge_mode.hold.lasts_s == 3600.0


def test_what_the_job_says_itself_comes_before_the_profile() -> None:
    found = job(
        head=HOUSE,
        target='tolerance = "0.5 K"\nsuperheat_low = "3 K"\nsuperheat_high = "9 K"',
        charge='step_cap = "50 g"',
        more='[frequency]\nrequired = "72 Hz"\ntolerance = "2 Hz"\nhold_lasts = "20 min"\n'
        '[processing]\nminimum_wait = "90 s"\n',
    )
    assert found.target.tolerance_k == 0.5
    assert (found.target.superheat_low_k, found.target.superheat_high_k) == (3.0, 9.0)
    assert found.target.superheat_source == "job file"
    assert found.charge.step_cap_kg == pytest.approx(0.05)
    assert (found.hold.tolerance_hz, found.hold.lasts_s) == (2.0, 1200.0)
    assert found.processing.minimum_wait_s == 90.0


def test_one_superheat_limit_of_its_own_takes_the_other_from_the_profile() -> None:
    found = job(head=HOUSE, target='tolerance = "0.5 K"\nsuperheat_high = "9 K"')
    assert found.target.superheat_low_k == pytest.approx(4.0 * F)
    assert found.target.superheat_high_k == 9.0
    assert found.target.superheat_source == "job file"


OWN = (
    SOURCE
    + """
outdoor_low = "60 °F"
outdoor_high = "46 °C"
indoor_low = "70 °F"
indoor_high = "27 °C"
run_before_reading = "20 min"
wait_after_change = "2 min"
final_hold = "10 min"
airflow_low = "350 cfm/ton"
"""
)


def test_conditions_of_the_job_file_in_every_unit() -> None:
    found = job(conditions=OWN)
    values = {each.key: each.value_si for each in found.limits if each.key not in USUAL}
    cfm_per_ton = 0.3048**3 / 60.0 / 3516.853  # NIST SP 811 (2008), appendix B.8
    assert values == {
        LimitKey.OUTDOOR_LOW: pytest.approx((60.0 + 459.67) / 1.8),
        LimitKey.OUTDOOR_HIGH: pytest.approx(319.15),
        LimitKey.INDOOR_LOW: pytest.approx((70.0 + 459.67) / 1.8),
        LimitKey.INDOOR_HIGH: pytest.approx(300.15),
        LimitKey.RUN_BEFORE_READING: 1200.0,
        LimitKey.WAIT_AFTER_CHANGE: 120.0,
        LimitKey.FINAL_HOLD: 600.0,
        LimitKey.AIRFLOW_LOW: pytest.approx(350.0 * cfm_per_ton),
    }
    # The others have defaults of the program, or are asked of a running unit's supply.
    assert set(values) <= set(CONDITIONS)
    assert found.processing.minimum_wait_s == 120.0
    assert {each.as_written for each in found.limits} >= {"60 °F", "46 °C", "350 cfm/ton"}
    assert {each.citation for each in found.limits if each.key not in USUAL} == {
        "installation manual, page 12 (equipment instructions)"
    }


def test_the_job_files_conditions_come_before_those_of_the_profile() -> None:
    found = job(head=INSTALLER, conditions=SOURCE + 'outdoor_low = "65 °F"')
    outdoor = limit(found, LimitKey.OUTDOOR_LOW)
    assert outdoor.as_written == "65 °F"
    assert outdoor.authority is Authority.EQUIPMENT
    assert limit(found, LimitKey.RUN_BEFORE_READING).authority is Authority.LOCAL_CODE
    # The wait: [processing] before [conditions] before the profile.
    wait = SOURCE + 'wait_after_change = "4 min"'
    assert job(head=INSTALLER).processing.minimum_wait_s == 900.0
    assert job(head=INSTALLER, conditions=wait).processing.minimum_wait_s == 240.0
    said = '[processing]\nminimum_wait = "30 s"\n'
    assert job(head=INSTALLER, conditions=wait, more=said).processing.minimum_wait_s == 30.0


def test_equipment_limits_come_before_those_of_an_equipment_profile() -> None:
    found = job(head='profile = "maker-window"', conditions=SOURCE + 'outdoor_low = "75 °F"')
    assert limit(found, LimitKey.OUTDOOR_LOW).as_written == "75 °F"
    assert limit(found, LimitKey.OUTDOOR_HIGH).as_written == "100 °F"


@pytest.mark.parametrize("head", ["", INSTALLER, HOUSE])
def test_the_recorded_job_has_every_limit_with_its_citation(head: str) -> None:
    found = job(head=head, conditions=OWN)
    written = job_to_json(found)
    again = job_from_json(written)
    assert again == found
    assert again.profile == found.profile
    assert len(again.limits) == len({each.key for each in again.limits}) >= len(CONDITIONS)
    for before, after in zip(found.limits, again.limits, strict=True):
        assert after.citation == before.citation
        assert before.source in written
        assert (after.address, after.strict, after.from_memory) == (
            before.address, before.strict, before.from_memory,
        )  # fmt: skip


def test_a_limit_from_memory_says_so_in_the_record() -> None:
    again = job_from_json(job_to_json(job(head='profile = "california-verifier"')))
    memory = [each for each in again.limits if each.from_memory]
    assert memory
    assert all(each.citation.endswith("from memory") for each in memory)


REFUSED = [
    ({"conditions": 'outdoor_low = "60 °F"'}, ["conditions.source", "where", "nothing"]),
    ({"conditions": 'source = "  "\noutdoor_low = "60 °F"'}, ["conditions.source", "nothing"]),
    ({"conditions": 'source = 7\noutdoor_low = "60 °F"'}, ["conditions.source", "7 (number)"]),
    ({"conditions": SOURCE + 'outdoor_low = "60"'}, ["conditions.outdoor_low", "unit"]),
    ({"conditions": SOURCE + "outdoor_low = 60"}, ["conditions.outdoor_low", "60 (number)"]),
    ({"conditions": SOURCE + 'outdoor_low = "15 K/s"'}, ["conditions.outdoor_low"]),
    ({"conditions": SOURCE + 'outdoor_low = "60 °C"'}, ["outdoor_low", "-58 to 131 °F", "60 °C"]),
    ({"conditions": SOURCE + 'run_before_reading = "0 s"'}, ["run_before_reading", "above zero"]),
    ({"conditions": SOURCE + 'run_before_reading = "15 h"'}, ["run_before_reading", "60 min"]),
    ({"conditions": SOURCE + 'wait_after_change = "2 h"'}, ["wait_after_change", "60 min"]),
    ({"conditions": SOURCE + 'airflow_low = "300 cfm"'}, ["airflow_low", "cfm/ton"]),
    ({"conditions": SOURCE + 'airflow_low = "-300 cfm/ton"'}, ["airflow_low", "above zero"]),
    ({"conditions": SOURCE + 'outdoor_lo = "60 °F"'}, ["outdoor_lo", "did you mean"]),
    ({"conditions": SOURCE + 'step_cap = "110 g"'}, ["conditions.step_cap", "unknown key"]),
    (
        {"conditions": SOURCE + 'outdoor_low = "80 °F"\noutdoor_high = "60 °F"'},
        ["conditions.outdoor_low", "less than outdoor_high", "80 °F"],
    ),
    (
        {"conditions": SOURCE + 'indoor_low = "70 °F"\nindoor_high = "70 °F"'},
        ["conditions.indoor_low", "less than indoor_high"],
    ),
    (
        {"head": 'profile = "maker-window"', "conditions": SOURCE + 'outdoor_low = "110 °F"'},
        ["conditions.outdoor_low", "outdoor_high, 100 °F", "110 °F"],
    ),
    ({"head": "conditions = 3"}, ["job.toml: conditions", "[conditions]", "3 (number)"]),
    ({"head": 'profile = "california-instaler"'}, ["profile", "did you mean 'california-inst"]),
    ({"head": "profile = 3"}, ["profile", "3 (number)"]),
    (
        {"head": 'profile = "maker-liquid-temperature"'},
        ["profile", "judges by subcooling", "equipment's instructions"],
    ),
    ({"head": 'profile = "maker-approach"', "target": ""}, ["target.tolerance", "missing"]),
    ({"head": 'profile = "maker-window"', "charge": ""}, ["charge.step_cap", "missing"]),
    (
        {"head": HOUSE, "target": 'tolerance = "0.5 K"\nsuperheat_low = "14 K"'},
        ["target.superheat_low", "less than superheat_high"],
    ),
]


@pytest.mark.parametrize(("parts", "words"), REFUSED)
def test_what_cannot_be_used_is_refused_with_its_key(
    parts: dict[str, str], words: list[str]
) -> None:
    message = refused(**parts)
    for word in words:
        assert word in message, message


def test_only_what_forbids_subcooling_is_refused() -> None:
    for name, profile in shipped_profiles().items():
        if Method.SUBCOOLING in profile.forbids:
            continue
        assert job(head=f'profile = "{name}"').profile == name


def test_conditions_are_shown_without_control_letters() -> None:
    found = job(conditions='source = "manual \\u001b[31m p. 3"\noutdoor_low = "60 °F"')
    assert "\x1b" not in limit(found, LimitKey.OUTDOOR_LOW).citation


HOUSE_FILE = """
[[profile]]
name = "house"
title = "What this house does (invented)"

[[profile.limit]]
key = "tightness_fall"
value = "1 %"
source = "house rule 7"
edition = "2026"
authority = "rule of thumb"

[[profile.limit]]
key = "hold_warning"
value = "10 min"
source = "house rule 9"
edition = "2026"
authority = "rule of thumb"
"""


def test_a_profile_of_your_own_lies_beside_the_job_file(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE_FILE, encoding="utf-8")
    path = tmp_path / "job.toml"
    path.write_text(text(head='profile = ["house.toml", "house-default"]'), encoding="utf-8")
    found = load_job(path)
    assert found.profile == "house + house-default"
    fall = limit(found, LimitKey.TIGHTNESS_FALL)
    assert (fall.value_si, fall.citation) == (0.01, "house rule 7, 2026 (rule of thumb)")
    assert limit(found, LimitKey.HOLD_WARNING).value_si == 600.0
    assert limit(found, LimitKey.OUTDOOR_LOW).source == "as RA3.2"
    # The record holds what counted; nobody needs the file to read it.
    assert job_from_json(job_to_json(found)).limits == found.limits


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("nowhere.toml", "cannot be read"),
        ("../house.toml", "a file beside the job file"),
        ("/etc/house.toml", "a file beside the job file"),
        ("empty.toml", "expected at least one table [[profile]]"),
    ],
)
def test_a_profile_file_that_cannot_be_used_is_refused(
    name: str, told: str, tmp_path: Path
) -> None:
    (tmp_path / "empty.toml").write_text("", encoding="utf-8")
    path = tmp_path / "job.toml"
    path.write_text(text(head=f'profile = "{name}"'), encoding="utf-8")
    with pytest.raises(ConfigError, match=re.escape(told)):
        load_job(path)


def test_limits_of_a_test_stand_in_its_own_table() -> None:
    found = job(
        more='[tightness]\nsource = "sheet 2"\ncounts_as_falling = "1.5 %"\nleft_out = "15 min"\n'
        '[dryness]\nsource = "sheet 3"\nequalisation = "90 s"\ncounts_as_leak = "5 %"\n'
    )
    assert limit(found, LimitKey.TIGHTNESS_FALL).citation == "sheet 2 (equipment instructions)"
    assert limit(found, LimitKey.TIGHTNESS_SETTLING).value_si == 900.0
    assert limit(found, LimitKey.VACUUM_EQUALISATION).value_si == 90.0
    assert limit(found, LimitKey.VACUUM_STEADY_RISE).value_si == pytest.approx(0.05)
    assert "expected where these were read" in refused(
        more='[tightness]\ncounts_as_falling = "1.5 %"\n'
    )


def test_filter_and_panels_are_asked_for_or_not_and_nothing_else() -> None:
    assert limit(job(head=HOUSE), LimitKey.FILTERS_PANELS).value_si == 1.0
    # Without a profile it is asked all the same, as a default that says so.
    assert limit(job(), LimitKey.FILTERS_PANELS) is USUAL[LimitKey.FILTERS_PANELS]
    assert 'expected "yes"' in refused(conditions=SOURCE + 'filters_panels = "no"')
