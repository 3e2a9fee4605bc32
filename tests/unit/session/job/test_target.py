"""The target of a job file: subcooling or superheat, its tolerance and where each was read."""

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import Target
from chargeassist.model.limits import Method
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.record.codec import job_from_json, job_to_json

F = 5.0 / 9.0


def job_text(target: str, top: str = "") -> str:
    return f"""
name = "invented"
refrigerant = "R-410A"
{top}
[site]
altitude = "0 m"
[target]
{target}
[charge]
plate = "3.0 kg"
step_cap = "110 g"
[[source]]
url = "simulator:?seed=1"
"""


def read(target: str, top: str = "") -> Target:
    job = parse_job(job_text(target, top), "job.toml")
    assert job_from_json(job_to_json(job)) == job
    return job.target


def test_superheat_by_the_table_has_no_number_of_its_own() -> None:
    target = read('method = "superheat"\ntolerance = "5 °F"\nsource = "table"')
    assert target.method is Method.SUPERHEAT
    assert target.fixed_k is None
    assert target.tolerance_k == pytest.approx(5.0 * F)
    assert target.tolerance_source == "job file"
    with pytest.raises(ValueError, match="moves"):
        _ = target.middle_k


def test_superheat_by_the_makers_number() -> None:
    target = read('method = "superheat"\nsuperheat = "8 °F"\ntolerance = "5 °F"\nsource = "chart"')
    assert target.fixed_k == pytest.approx(8.0 * F)


def test_a_typed_wet_bulb_says_how_it_was_measured() -> None:
    text = 'method = "superheat"\ntolerance = "5 °F"\nsource = "table"\nreturn_wet_bulb = "63 °F"'
    with pytest.raises(ConfigError, match="return_wet_bulb_source: expected how"):
        read(text)
    target = read(f'{text}\nreturn_wet_bulb_source = "psychrometer at the return"')
    assert target.return_wet_bulb_k == pytest.approx(31.0 * F + KELVIN_AT_0_C)
    assert target.return_wet_bulb_source == "psychrometer at the return"


@pytest.mark.parametrize(
    ("profile", "method", "degrees_f"),
    [
        # California Reference Appendix RA3.2 (2008): 3 and 5 °F installer, 4 (from memory) and 6 °F
        # verifier.
        ("california-installer", "subcooling", 3.0),
        ("california-verifier", "subcooling", 4.0),
        ("california-installer", "superheat", 5.0),
        ("california-verifier", "superheat", 6.0),
    ],
)
def test_the_profile_gives_the_tolerance_of_its_role_and_the_job_says_so(
    profile: str, method: str, degrees_f: float
) -> None:
    number = 'subcooling = "9 °F"' if method == "subcooling" else 'superheat = "9 °F"'
    text = f'method = "{method}"\n{number}\nsource = "plate"'
    target = read(text, f'profile = "{profile}"')
    assert target.tolerance_k == pytest.approx(degrees_f * F)
    assert "RA3.2" in target.tolerance_source
    own = read(f'{text}\ntolerance = "1 °F"', f'profile = "{profile}"')
    assert own.tolerance_k == pytest.approx(F)
    assert own.tolerance_source == "job file"


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ('method = "superheat"\nsource = "table"', "tolerance: expected"),
        ('method = "approach"\nsource = "x"', "expected one of subcooling, superheat"),
        (
            'method = "superheat"\nsubcooling = "9 °F"\ntolerance = "5 °F"\nsource = "x"',
            "unknown key",
        ),
        (
            'method = "superheat"\nsuperheat = "3 °F"\ntolerance = "5 °F"\nsource = "x"',
            "expected more than superheat_low",
        ),
        (
            'subcooling = "9 °F"\nreturn_wet_bulb = "63 °F"\ntolerance = "1 °F"\nsource = "x"',
            "unknown key",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(target: str, words: str) -> None:
    with pytest.raises(ConfigError, match=words) as caught:
        read(target)
    assert "job.toml" in str(caught.value)


def test_a_profile_that_forbids_subcooling_may_be_charged_by_superheat() -> None:
    top = 'profile = "maker-liquid-temperature"'
    with pytest.raises(ConfigError, match="judges by subcooling"):
        read('subcooling = "9 °F"\ntolerance = "3 °F"\nsource = "plate"', top)
    target = read('method = "superheat"\ntolerance = "5 °F"\nsource = "table"', top)
    assert target.method is Method.SUPERHEAT


def test_the_approach_is_a_cross_check_with_a_tolerance_and_a_source() -> None:
    text = 'subcooling = "9 °F"\ntolerance = "3 °F"\nsource = "plate"\napproach = "8 °F"'
    target = read(text)
    assert target.approach_k == pytest.approx(8.0 * F)
    assert target.approach_tolerance_k == pytest.approx(F)  # equipment manual: 1 °F
    assert target.approach_source.startswith("plate; tolerance: default of this program: equip")
    own = read(f'{text}\napproach_tolerance = "2 °F"')
    assert own.approach_tolerance_k == pytest.approx(2.0 * F)
    assert own.approach_source == "plate"
    named = read(f'{text}\napproach_source = "table, page 8"', 'profile = "maker-approach"')
    assert named.approach_source.startswith("table, page 8; tolerance: equipment manual")
    assert read('subcooling = "9 °F"\ntolerance = "3 °F"\nsource = "plate"').approach_k is None
