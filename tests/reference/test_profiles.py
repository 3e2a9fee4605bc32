"""The shipped profiles against the numbers of the documents they name, and malformed files."""

from importlib.resources import files

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import Authority, LimitKey, Method, Profile, resolve
from chargeassist.session.job.profiles import parse_profiles

TEXT = (files("chargeassist") / "data" / "profiles.toml").read_text(encoding="utf-8")
PROFILES = parse_profiles(TEXT, "profiles.toml")
F = 5.0 / 9.0
PSI = 0.45359237 * 9.80665 / 0.0254**2
CFM_PER_TON = 0.3048**3 / 60.0 / 3516.853  # NIST SP 811 (2008), B.8: ton of refrigeration

RA3_2008 = "manualshelf.com/manual/airflow/ra3/specifications-english/page-"
RA3_2013 = "energycodeace.com/site/custom/public/reference-ace-2013/Documents/"
SCOPE = RA3_2013 + "ra32fieldverificationanddiagnostictestingofrefrigerantchargefora.htm"
INSTRUMENTS = RA3_2013 + "ra322222responsetimeandapplicationspecificationforpipetemperatur.htm"


def si(profile: str, key: str) -> float:
    limit = PROFILES[profile].limit(LimitKey(key))
    assert limit is not None, (profile, key)
    return limit.value_si


@pytest.mark.parametrize(
    ("profile", "key", "expected", "address"),
    [
        # RA3.2.2.6.2: "within plus or minus 3 °F", verifier 4 °F (the latter from memory).
        ("california-installer", "subcooling_tolerance", 3 * F, RA3_2008 + "16"),
        # RA3.2.2.6.1: installer 5 °F, verifier 6 °F of the target superheat.
        ("california-installer", "superheat_tolerance", 5 * F, RA3_2008 + "15"),
        ("california-verifier", "superheat_tolerance", 6 * F, RA3_2008 + "15"),
        # Metering device: installer 4 to 25 °F, verifier 3 to 26 °F, unless the maker has a range.
        ("california-installer", "superheat_low", 4 * F, RA3_2008 + "16"),
        ("california-installer", "superheat_high", 25 * F, RA3_2008 + "16"),
        ("california-verifier", "superheat_low", 3 * F, RA3_2008 + "16"),
        ("california-verifier", "superheat_high", 26 * F, RA3_2008 + "16"),
        # Temperature split: 3 and 4 °F.
        ("california-installer", "split_tolerance", 3 * F, RA3_2008 + "17"),
        ("california-verifier", "split_tolerance", 4 * F, RA3_2008 + "17"),
        # Standard method from 55 °F of outdoor air; 15 minutes of running; more than 300 cfm/ton.
        ("california-installer", "outdoor_low", (55 + 459.67) / 1.8, SCOPE),
        ("california-installer", "run_before_reading", 900.0, RA3_2008 + "14"),
        ("california-installer", "airflow_low", 300 * CFM_PER_TON, RA3_2008 + "16"),
        # RA3.2.2.2.2 (2013): 7.0 and 3.5 psi, 90 s; page 11 and 13 of the 2008 edition.
        ("california-installer", "liquid_pressure_accuracy", 7.0 * PSI, INSTRUMENTS),
        ("california-installer", "suction_pressure_accuracy", 3.5 * PSI, INSTRUMENTS),
        ("california-installer", "probe_settling", 90.0, INSTRUMENTS),
        ("california-installer", "temperature_accuracy", 1.3 * F, RA3_2008 + "11"),
        ("california-installer", "ice_bath_tolerance", 1 * F, RA3_2008 + "13"),
        ("california-installer", "ice_bath_replace", 2 * F, RA3_2008 + "13"),
        ("california-installer", "cylinder_rest", 4 * 3600.0, RA3_2008 + "13"),
        # Equipment manuals.
        ("maker-window", "subcooling_tolerance", 3 * F, "cxh5/2079758?page=15"),
        ("maker-window", "outdoor_low", (70 + 459.67) / 1.8, "25tpb7/manual?p=10"),
        ("maker-window", "outdoor_high", (100 + 459.67) / 1.8, "25tpb7/manual?p=10"),
        ("maker-window", "indoor_low", (70 + 459.67) / 1.8, "25tpb7/manual?p=10"),
        ("maker-window", "indoor_high", (80 + 459.67) / 1.8, "25tpb7/manual?p=10"),
        ("maker-window", "run_before_reading", 900.0, "25tpb7/manual?p=10"),
        ("maker-window", "wait_after_change", 900.0, "25tpb7/manual?p=10"),
        ("maker-approach", "approach_tolerance", 1 * F, "merit-13hpd018/1877800?page=16"),
        ("maker-approach", "outdoor_low", (65 + 459.67) / 1.8, "merit-13hpd018/1877800?page=16"),
        ("maker-short-wait", "wait_after_change", 600.0, "4ttm3018/1150271?page=16"),
        ("maker-charge-mode", "hold_lasts", 3600.0, "Installation-Instructions-Manual-5132388"),
        ("maker-charge-mode", "ramp_longest", 180.0, "Installation-Instructions-Manual-5132388"),
    ],
)
def test_a_limit_and_where_it_was_read(
    profile: str, key: str, expected: float, address: str
) -> None:
    limit = PROFILES[profile].limit(LimitKey(key))
    assert limit is not None
    assert limit.value_si == pytest.approx(expected, rel=1e-6)
    assert address in limit.address
    assert not limit.from_memory
    assert limit.edition


def test_what_was_not_read_says_so() -> None:
    """The verifier's 4 °F, and all of ANSI/ACCA 5 QI, were not seen in print."""
    verifier = PROFILES["california-verifier"].limits[LimitKey.SUBCOOLING_TOLERANCE]
    assert verifier.value_si == pytest.approx(4 * F)
    assert verifier.from_memory
    assert "from memory" in verifier.citation
    qi = PROFILES["quality-installation"]
    assert all(limit.from_memory for limit in qi.limits.values())
    assert qi.limits[LimitKey.AIRFLOW_TOLERANCE].value_si == pytest.approx(0.15)


def test_the_verifier_is_nowhere_narrower_than_the_installer() -> None:
    """RA3.2 gives the verifier more room because two measurements scatter."""
    for key in ("subcooling_tolerance", "superheat_tolerance", "split_tolerance", "superheat_high"):
        assert si("california-verifier", key) > si("california-installer", key)
    assert si("california-verifier", "superheat_low") < si("california-installer", "superheat_low")


def test_the_instrument_limit_against_its_temperature() -> None:
    """7 psi of R-410A at 100 °F is 1.54 °F of subcooling (CoolProp: 0.2198 °F/psi)."""
    from chargeassist.physics.saturation import refrigerant

    fluid = refrigerant("R-410A")
    pressure = fluid.bubble_pressure_pa_abs((100 + 459.67) / 1.8)
    assert isinstance(pressure, float)
    slope = fluid.bubble_slope_k_per_pa(pressure)
    assert isinstance(slope, float)
    found_f = slope * si("california-installer", "liquid_pressure_accuracy") * 1.8
    assert found_f == pytest.approx(1.54, abs=0.02)


def test_the_house_default_claims_no_authority_and_covers_every_gate() -> None:
    house = PROFILES["house-default"]
    assert all(limit.authority is Authority.RULE_OF_THUMB for limit in house.limits.values())
    assert set(house.limits) >= {
        LimitKey.SUBCOOLING_TOLERANCE, LimitKey.SUPERHEAT_TOLERANCE, LimitKey.SUPERHEAT_LOW,
        LimitKey.SUPERHEAT_HIGH, LimitKey.OUTDOOR_LOW, LimitKey.OUTDOOR_HIGH, LimitKey.INDOOR_LOW,
        LimitKey.INDOOR_HIGH, LimitKey.RUN_BEFORE_READING, LimitKey.WAIT_AFTER_CHANGE,
        LimitKey.AIRFLOW_LOW, LimitKey.FREQUENCY_TOLERANCE, LimitKey.LIQUID_PRESSURE_ACCURACY,
        LimitKey.SUCTION_PRESSURE_ACCURACY, LimitKey.TEMP_ACCURACY,
    }  # fmt: skip


def test_the_higher_authority_wins_and_the_first_among_equals() -> None:
    house, code = PROFILES["house-default"], PROFILES["california-installer"]
    maker, verifier = PROFILES["maker-window"], PROFILES["california-verifier"]
    chosen = resolve([house, code, maker], LimitKey.OUTDOOR_LOW)
    assert chosen is maker.limits[LimitKey.OUTDOOR_LOW]
    assert resolve([house, code], LimitKey.OUTDOOR_LOW) is code.limits[LimitKey.OUTDOOR_LOW]
    first = resolve([verifier, code], LimitKey.SUPERHEAT_TOLERANCE)
    assert first is verifier.limits[LimitKey.SUPERHEAT_TOLERANCE]
    assert resolve([maker], LimitKey.STEP_CAP) is None
    assert resolve([], LimitKey.STEP_CAP) is None
    ranks = [Authority.EQUIPMENT, Authority.LOCAL_CODE, Authority.STANDARD, Authority.RULE_OF_THUMB]
    assert sorted(Authority, reverse=True) == ranks


def test_a_profile_can_forbid_a_method() -> None:
    """Manual 4ttm3018, page 16: some systems must not be charged by subcooling."""
    assert PROFILES["maker-liquid-temperature"].forbids == {Method.SUBCOOLING}
    assert not PROFILES["california-installer"].forbids


def test_more_than_300_is_not_300() -> None:
    limit = PROFILES["california-installer"].limits[LimitKey.AIRFLOW_LOW]
    assert limit.strict
    assert not PROFILES["california-installer"].limits[LimitKey.OUTDOOR_LOW].strict


GOOD = """
[[profile]]
name = "mine"
title = "invented"
[[profile.limit]]
key = "subcooling_tolerance"
value = "1.5 K"
source = "invented plate"
edition = "2020"
address = "invented page"
authority = "equipment instructions"
"""


def one(text: str) -> Profile:
    (profile,) = parse_profiles(text).values()
    return profile


def test_the_smallest_profile() -> None:
    limit = one(GOOD).limits[LimitKey.SUBCOOLING_TOLERANCE]
    assert limit.value_si == 1.5
    assert limit.as_written == "1.5 K"
    assert limit.citation == "invented plate, 2020 (equipment instructions)"


@pytest.mark.parametrize(
    ("written", "expected"),
    [("400 cfm/ton", 400 * CFM_PER_TON), ("54 L/s/kW", 54e-6), ("193 m3/h/kW", 193 / 3.6e6)],
)
def test_airflow_per_capacity_in_each_unit(written: str, expected: float) -> None:
    text = GOOD.replace("subcooling_tolerance", "airflow_low").replace("1.5 K", written)
    assert one(text).limits[LimitKey.AIRFLOW_LOW].value_si == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('name = "mine"', "", "name: expected a text"),
        ('name = "mine"', 'name = "My Profile"', "a-z"),
        ("subcooling_tolerance", "subcoling_tolerance", "key: expected one of"),
        ("1.5 K", "1.5", "has no unit"),
        ("1.5 K", "1.5 psi", "temperature difference"),
        ("1.5 K", "-1.5 K", "above zero"),
        ("1.5 K", "0 K", "above zero"),
        ('value = "1.5 K"', "value = 1.5", "a text in quotes"),
        ('source = "invented plate"', 'source = ""', "source: expected a text"),
        ('edition = "2020"', "", "edition: expected a text"),
        ('address = "invented page"', "", "from_memory = true"),
        ('"equipment instructions"', '"gut feeling"', "authority: expected one of"),
        (
            'value = "1.5 K"',
            'value = "1.5 K"\nvalu = "1"',
            "valu: unknown key",
        ),
        ('address = "invented page"', 'from_memory = "yes"', "true or false"),
        ('title = "invented"', 'title = "x"\nforbids = ["guessing"]', "forbids: expected some of"),
        ('title = "invented"', 'title = "x"\nforbids = "subcooling"', "a list of texts"),
        ("[[profile.limit]]", "[profile.limit]", "tables [[limit]]"),
        ("[[profile]]", "[[profile", "expected TOML"),
    ],
)
def test_a_malformed_file_is_refused_with_its_place(old: str, new: str, says: str) -> None:
    assert old in GOOD
    with pytest.raises(ConfigError) as caught:
        parse_profiles(GOOD.replace(old, new), "mine.toml")
    assert says in str(caught.value)
    assert str(caught.value).startswith("mine.toml")


def limit_text(key: str, value: str) -> str:
    return f"""
[[profile.limit]]
key = "{key}"
value = "{value}"
source = "invented"
authority = "rule of thumb"
"""


def test_contradictions_inside_a_profile_are_refused() -> None:
    for low, high in (
        ("superheat_low", "superheat_high"),
        ("ice_bath_tolerance", "ice_bath_replace"),
    ):
        with pytest.raises(ConfigError, match="less than"):
            parse_profiles(GOOD + limit_text(low, "9 °F") + limit_text(high, "9 °F"))
    with pytest.raises(ConfigError, match="each key once"):
        parse_profiles(GOOD + limit_text("subcooling_tolerance", "2 K"))
    with pytest.raises(ConfigError, match="names must differ"):
        parse_profiles(GOOD + GOOD)
    with pytest.raises(ConfigError, match="at least one"):
        parse_profiles("")
    gauge = GOOD.replace("subcooling_tolerance", "liquid_pressure_accuracy")
    with pytest.raises(ConfigError, match="difference of pressures"):
        parse_profiles(gauge.replace("1.5 K", "7 psig"))
    assert one(gauge.replace("1.5 K", "7 psi")).limits


def test_the_fingerprint_changes_with_what_decides_and_only_then() -> None:
    mine = one(GOOD).fingerprint
    assert mine == one(GOOD.replace('title = "invented"', 'title = "other words"')).fingerprint
    assert mine != one(GOOD.replace("1.5 K", "1.6 K")).fingerprint
    assert mine != one(GOOD.replace("2020", "2021")).fingerprint
    assert len(mine) == 64
    assert one(GOOD.replace("1.5 K", "1500 K").replace("1500", "1.500")).fingerprint == mine
