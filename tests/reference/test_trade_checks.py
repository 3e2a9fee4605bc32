"""The trade's check values, row by row: what the program computes against what was printed.

`data/trade_checks.csv` names document and address of each row; rows marked "computed" were computed
with CoolProp, psychrolib or iapws, or are definitions. Errors met in print (a voltage unbalance by
the wrong leg, ice temperatures with a lost sign, 9 oz for 4.5 oz, .018 kg/m for 0.6 oz/ft) stand
there with their right values.
"""

import csv
import math
import random
import re
from collections.abc import Callable
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest

from chargeassist.guide.charging import advise
from chargeassist.model.events import Action
from chargeassist.model.installation import ShortLine
from chargeassist.model.job import Target
from chargeassist.model.limits import LimitKey, Profile
from chargeassist.model.units import PASCAL_PER_MICRON, Quantity, Reference, parse, parse_pressure
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.physics.cylinder import CapacityRule, net_capacity_kg
from chargeassist.physics.electrical import (
    derating,
    voltage_unbalance,
)
from chargeassist.physics.flammable import room_rule
from chargeassist.physics.moist_air import moist_air
from chargeassist.physics.nitrogen import (
    expected_pressure_pa_abs,
    ideal_pressure_pa_abs,
    slope_pa_per_k,
)
from chargeassist.physics.rise_settings import RiseSettings
from chargeassist.physics.rise_test import RiseTest, RiseVerdict
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.target_superheat import target_superheat
from chargeassist.physics.uncertainty import Decision, conformance_probability, decide
from chargeassist.physics.vacuum_gauge import GaugeLimits
from chargeassist.physics.water_vapour import ice_pressure_pa_abs, liquid_pressure_pa_abs
from chargeassist.physics.weigh_in import KG_PER_M_PER_OZ_PER_FT, weigh_in
from chargeassist.session.job.profiles import parse_profiles
from tests.unit.guide.charging_facts import JOB, settled

TABLE = (Path(__file__).parent / "data" / "trade_checks.csv").read_text(encoding="utf-8")
ROWS = {row["id"]: row for row in csv.DictReader(TABLE.splitlines())}
PSI, ATMOSPHERE = 6894.757293168361, 101325.0
POUND = 0.45359237
OUNCE = POUND / 16.0
F = 5.0 / 9.0


def kelvin(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def fahrenheit(temp_k: float) -> float:
    return temp_k * 1.8 - 459.67


def number(value: float | NoValue) -> float:
    assert not isinstance(value, NoValue), value
    return value


def numbers(text: str) -> list[float]:
    return [float(each) for each in re.findall(r"-?\d+\.?\d*", text)]


def profile_limit(name: str, key: LimitKey) -> float:
    found: dict[str, Profile] = {}
    for file in ("profiles.toml", "profiles-circuit.toml"):
        text = (files("chargeassist") / "data" / file).read_text(encoding="utf-8")
        found |= parse_profiles(text, file)
    limit = found[name].limit(key)
    assert limit is not None
    return limit.value_si


def superheat(inputs: str) -> float:
    outdoor_f, wet_f = numbers(inputs)
    found = target_superheat(kelvin(outdoor_f), kelvin(wet_f))
    return math.nan if isinstance(found, NoValue) else found.value_k / F


def nitrogen(psig: float, from_f: float, to_f: float, *, ideal: bool) -> float:
    law = ideal_pressure_pa_abs if ideal else expected_pressure_pa_abs
    after = number(law(psig * PSI + ATMOSPHERE, kelvin(from_f), kelvin(to_f)))
    return (after - ATMOSPHERE) / PSI


def r410a(psig: float) -> float:
    fluid = refrigerant("R-410A")
    return fahrenheit(number(fluid.bubble_temp_k(psig * PSI + ATMOSPHERE)))


def slope_of_r410a() -> float:
    fluid = refrigerant("R-410A")
    pressure = number(fluid.bubble_pressure_pa_abs(kelvin(100.0)))
    return number(fluid.bubble_slope_k_per_pa(pressure)) * PSI / F


def right_at() -> float:
    """Return the gauge pressure at which nitrogen really changes by 0.3 psi/F at 70 F [psig]."""
    return 0.3 * 1.8 * kelvin(70.0) - ATMOSPHERE / PSI


def unbalance(inputs: str) -> float:
    found = voltage_unbalance(numbers(inputs))
    assert not isinstance(found, NoValue)
    return 100.0 * found.unbalance


def room(area_m2: float) -> float:
    found = room_rule(1.0, 0.307, 0.6, area_m2=area_m2)
    assert found.largest_kg is not None
    return found.largest_kg


def area_for(charge_kg: float) -> float:
    """Return the smallest room of a charge just under 6 LFL, which the printed table gives too."""
    low, high = 6.0, 60.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if room(middle) >= charge_kg else (middle, high)
    return high


def guarded_limit() -> float:
    """Return the largest value that passes for certain below 3 with U = 1."""
    low, high = 0.0, 3.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        passes = decide(middle, 1.0, -math.inf, 3.0) is Decision.PASS
        low, high = (middle, high) if passes else (low, middle)
    return low


def air(temp_f: float, wet_f: float) -> tuple[float, float]:
    found = moist_air(kelvin(temp_f), kelvin(wet_f), 14.696 * PSI)
    assert not isinstance(found, NoValue)
    return found.humidity_ratio, found.enthalpy_j_per_kg


def btu_per_lb(temp_f: float, wet_f: float) -> float:
    """Return enthalpy from 0 F, as the trade's charts count it."""
    return air(temp_f, wet_f)[1] / 2326.0 + 0.24 * 32.0


def line(adder_oz: float, feet: float, included_oz: float) -> float:
    found = weigh_in(
        1.0,
        length_m=feet * 0.3048,
        adder_kg_per_m=adder_oz * KG_PER_M_PER_OZ_PER_FT,
        allowance_kg=included_oz * OUNCE,
        short_line=ShortLine.LEAVE,
    )
    return found.adjustment_kg / OUNCE


def rise(profile: str) -> tuple[float, float, float]:
    return (
        profile_limit(profile, LimitKey.VACUUM_TARGET) / PASCAL_PER_MICRON,
        profile_limit(profile, LimitKey.VACUUM_RISE_TIME) / 60.0,
        profile_limit(profile, LimitKey.VACUUM_RISE_LIMIT) / PASCAL_PER_MICRON,
    )


def derated(percent: float) -> float:
    return number(derating(percent / 100.0))


def ice(micron: float) -> float:
    """Return the temperature at which ice has this vapour pressure [°F], by bisection."""
    low_k, high_k = 190.0, 273.16
    for _ in range(60):
        middle_k = 0.5 * (low_k + high_k)
        below = number(ice_pressure_pa_abs(middle_k)) < micron * PASCAL_PER_MICRON
        low_k, high_k = (middle_k, high_k) if below else (low_k, middle_k)
    return fahrenheit(low_k)


def water(temp_f: float) -> float:
    return number(liquid_pressure_pa_abs(kelvin(temp_f))) / PASCAL_PER_MICRON


def installer(key: LimitKey, profile: str = "california-installer") -> float:
    return profile_limit(profile, key)


CONTRADICTED = {"TC010": (9.0, 105.0, 70.0), "TC013": (16.0, 100.0, 72.0)}
"""Rows copied one column off: less than the same table prints five degrees warmer outdoors."""

Value = float | tuple[float, ...]
COMPUTED: dict[str, Callable[[], Value]] = {
    **{
        row: lambda row=row: superheat(ROWS[row]["inputs"])  # type: ignore[misc]
        for row in ROWS
        if "TC003" <= row <= "TC018" and row not in CONTRADICTED
    },
    "TC020": lambda: installer(LimitKey.SUBCOOLING_TOLERANCE) / F,
    "TC022": lambda: -installer(LimitKey.SUPERHEAT_TOLERANCE) / F,
    "TC023": lambda: installer(LimitKey.SUPERHEAT_TOLERANCE, "california-verifier") / F,
    "TC026": lambda: fahrenheit(installer(LimitKey.OUTDOOR_LOW)),
    "TC028": lambda: installer(LimitKey.AIRFLOW_LOW) * 3516.853 / (0.3048**3 / 60.0),
    "TC029": lambda: installer(LimitKey.LIQUID_PRESSURE_ACCURACY) / PSI,
    "TC030": lambda: installer(LimitKey.SUCTION_PRESSURE_ACCURACY) / PSI,
    "TC031": lambda: installer(LimitKey.PROBE_SETTLING),
    "TC032": lambda: (
        installer(LimitKey.ICE_BATH_TOLERANCE) / F,
        installer(LimitKey.ICE_BATH_REPLACE) / F,
    ),
    "TC033": lambda: (
        (number(refrigerant("R-410A").bubble_pressure_pa_abs(kelvin(100.0))) - ATMOSPHERE) / PSI
    ),
    "TC035": lambda: r410a(317.2),
    "TC036": lambda: r410a(317.2) - 90.0,
    "TC037": lambda: (
        52.0 - fahrenheit(number(refrigerant("R-410A").dew_temp_k(118.0 * PSI + ATMOSPHERE)))
    ),
    "TC039": slope_of_r410a,
    "TC040": lambda: 2.0 * math.hypot(slope_of_r410a() * 7.0, 1.4) / math.sqrt(3.0),
    "TC041": lambda: nitrogen(150.0, 80.0, 70.0, ideal=True),
    "TC042": lambda: (500.0 * PSI + ATMOSPHERE) / kelvin(70.0) / 1.8 / PSI,
    "TC043": lambda: nitrogen(500.0, 80.0, 70.0, ideal=False),
    "TC044": lambda: ideal_pressure_pa_abs(25.8e5, 280.15, 291.15) / 1e5,
    "TC045": lambda: (ideal_pressure_pa_abs(3.8e6 + ATMOSPHERE, 300.15, 293.15) - ATMOSPHERE) / 1e6,
    "TC046": right_at,
    "TC047": lambda: PASCAL_PER_MICRON,
    **{
        row: lambda temp_f=temp_f: water(temp_f)  # type: ignore[misc]
        for row, temp_f in (
            ("TC049", 40.0), ("TC050", 50.0), ("TC051", 60.0), ("TC053", 72.0), ("TC054", 80.0),
            ("TC055", 90.0),
        )
    },
    **{
        row: lambda micron=micron: ice(micron)  # type: ignore[misc]
        for row, micron in (
            ("TC056", 200.0), ("TC057", 250.0), ("TC059", 500.0), ("TC060", 1000.0),
            ("TC062", 2000.0),
        )
    },
    "TC063": lambda: rise("evacuation-500-20"),
    "TC064": lambda: rise("evacuation-250-15"),
    "TC065": lambda: rise("evacuation-300-60"),
    "TC066": lambda: rise("evacuation-250-10"),
    "TC068": lambda: (
        (parse_pressure("29.92 inHg", Reference.ABSOLUTE)[0]
         + parse_pressure("29.01 inHg vac", Reference.GAUGE)[0]) / PASCAL_PER_MICRON
    ),
    "TC070": lambda: net_capacity_kg(47.6, 1.0) + 27.5,
    "TC071": lambda: net_capacity_kg(1000.0, 1.197, rule=CapacityRule.WITH_GRAVITY),
    "TC072": lambda: net_capacity_kg(1000.0, 1.197, rule=CapacityRule.WITH_GRAVITY) + 380.0,
    "TC074": lambda: line(1.2, 75.0, 15 * 0.6),
    "TC076": lambda: line(0.40, 45.0, 13.5),
    "TC077": lambda: 1000.0 * parse("0.6 oz/ft", Quantity.MASS_PER_LENGTH),
    "TC079": lambda: unbalance("203, 210, 212"),
    "TC081": lambda: unbalance("400, 395, 388"),
    "TC082": lambda: unbalance("208, 206, 199"),
    **{
        row: lambda percent=percent: derated(percent)  # type: ignore[misc]
        for row, percent in (
            ("TC083", 0.5), ("TC084", 1.5), ("TC085", 2.0), ("TC086", 2.5), ("TC087", 3.0),
            ("TC088", 3.5), ("TC089", 4.0), ("TC091", 5.0),
        )
    },
    "TC093": lambda: air(80.0, 67.0)[0],
    "TC094": lambda: btu_per_lb(80.0, 67.0),
    "TC096": lambda: pressure_at_altitude_pa_abs(5000 * 0.3048) / PSI,
    "TC097": lambda: 4.5 * 1200.0 * (btu_per_lb(80.0, 67.0) - btu_per_lb(58.0, 56.5)),
    "TC100": lambda: room(6.0),
    "TC101": lambda: room(7.0),
    "TC103": lambda: room(20.0),
    "TC104": lambda: room(45.0),
    "TC105": lambda: area_for(1.84),
    "TC106": lambda: room_rule(2.00, 0.307, 0.6).smallest_area_m2,
    "TC107": lambda: room_rule(2.30, 0.307, 0.6).smallest_area_m2,
    "TC108": lambda: room_rule(1.0, 0.307, 0.6).unlimited_kg,
    "TC112": lambda: conformance_probability(2.0, 1.0, -3.0, 3.0),
    "TC113": guarded_limit,
}  # fmt: skip
"""What the program says to each row."""

TOLERANCE = {"TC094": 0.02}
"""Wider than the row's: the handbook's equations in Btu and in kJ differ by 0.01 Btu/lb."""

EXPECTED = {"TC020": 3.0, "TC022": -5.0, "TC023": 6.0}
"""Rows whose number stands among the inputs: the largest difference that passes."""


def expected(row: dict[str, str]) -> tuple[float, ...]:
    if row["id"] in EXPECTED:
        return (EXPECTED[row["id"]],)
    if row["expected"] == "invalid":
        return (math.nan,)
    return tuple(float(each) for each in row["expected"].split(";"))


@pytest.mark.parametrize("row", sorted(COMPUTED))
def test_the_program_agrees_with_the_printed_value(row: str) -> None:
    wanted = expected(ROWS[row])
    value = COMPUTED[row]()
    found = value if isinstance(value, tuple) else (value,)
    text = ROWS[row]["tolerance"]
    relative = float(text.split()[0]) / 100.0 if text.endswith("%") else 0.0
    absolute = 0.0 if relative or text == "exact" else TOLERANCE.get(row, float(text))
    assert found == pytest.approx(
        wanted, rel=max(relative, 1e-6), abs=max(absolute, 1e-9), nan_ok=True
    ), ROWS[row]


def test_there_are_enough_of_them_and_each_names_its_source() -> None:
    assert len(COMPUTED) >= 60
    guide = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"to {len(COMPUTED)} printed or recomputed values of the trade" in guide
    assert all(ROWS[row]["source"].strip() for row in COMPUTED)
    documents = [row for row in COMPUTED if ROWS[row]["kind"].startswith("document")]
    assert len(documents) >= 40


@pytest.mark.parametrize("row", sorted(CONTRADICTED))
def test_a_row_that_its_own_table_contradicts_is_left_out(row: str) -> None:
    """Target superheat falls as it gets warmer outdoors; these rows would have it rise."""
    written, outdoor_f, wet_f = CONTRADICTED[row]
    assert superheat(f"{outdoor_f + 5.0}; {wet_f}") > written
    assert superheat(f"{outdoor_f}; {wet_f}") > superheat(f"{outdoor_f + 5.0}; {wet_f}")


def test_the_ice_temperatures_of_several_web_pages_are_not_ours() -> None:
    """They print +34 °F for 1000 microns and +12 °F for 500: a lost sign, a wrong unit."""
    assert abs(ice(1000.0) - 34.0) > 30.0
    assert abs(ice(500.0) - 12.0) > 20.0


def test_a_flat_rule_of_nitrogen_is_right_at_one_pressure_only() -> None:
    """0.01 MPa/K, used at 4.3 MPa, is a third too little there (real gas 0.0148 and more)."""
    slope = number(slope_pa_per_k(4.3e6 + ATMOSPHERE, 293.15))
    assert slope / 1e6 > 0.0145


def test_under_the_installers_tolerance_refrigerant_is_added() -> None:
    """TC021: subcooling 3.1 °F under the maker's target."""
    assert ROWS["TC021"]["expected"] == "add"
    target_k, tolerance_k = 10.0 * F, installer(LimitKey.SUBCOOLING_TOLERANCE)
    target = Target(subcooling_k=target_k, tolerance_k=tolerance_k, source="label")
    job = replace(JOB, target=target)
    for off_f, action in ((-3.1, Action.ADD), (-2.9, Action.STOP)):
        facts = settled(target_k + off_f * F, expanded_k=0.01)
        assert advise(job, facts, None).action is action


def test_a_rise_to_1500_micron_that_levels_off_is_moisture_and_no_leak() -> None:
    """TC067: the limit is 1000 micron in 10 min; above it and flat is not tight and dry."""
    assert ROWS["TC067"]["expected"].startswith("moisture")
    settings = RiseSettings(
        limit_pa_abs=1000.0 * PASCAL_PER_MICRON, hold_s=600.0, gauge=GaugeLimits()
    )
    test = RiseTest(settings, 0.0)
    scatter = random.Random(67)
    verdicts = set()
    for t in range(1, 1201):
        true = PASCAL_PER_MICRON * (1500.0 - 1250.0 * math.exp(-t / 120.0))
        found = test.update(float(t), true * (1.0 + scatter.gauss(0.0, 0.005)), 293.15)
        if not isinstance(found, NoValue):
            verdicts.add(found.verdict)
    assert RiseVerdict.MOIST in verdicts
    assert verdicts <= {RiseVerdict.MOIST, RiseVerdict.NOT_YET}
