"""Condensing temperature over outdoor air, against a maker's printed table of operating pressures.

manualshive.com/ru/manual/lennox/lrp14ac-series/1877590?page=23: liquid pressures [psig] of twelve
R-410A units at 80/67 °F return air; the independent saturation is CoolProp 8.
"""

from dataclasses import replace

import pytest
from CoolProp import CoolProp

from chargeassist.guide import documented
from chargeassist.guide.usual_ranges import UsualRanges
from chargeassist.model.channels import Role
from chargeassist.model.job import ChargeLimits, Hold, Job, Site, Target
from chargeassist.model.performance import Performance
from chargeassist.stream.facts import Facts
from tests.unit.guide.bare_facts import bare_facts

PSI = 6894.757293168361
OUTDOOR_F = (65, 70, 75, 80, 82, 85, 90, 95, 100, 105, 110, 115)
LIQUID_PSIG = (
    (250, 266, 282, 298, 304, 318, 340, 363, 388, 413, 438, 463),
    (247, 269, 292, 314, 323, 336, 358, 380, 406, 432, 457, 483),
    (250, 275, 301, 326, 336, 351, 375, 399, 423, 446, 470, 493),
    (248, 271, 293, 316, 325, 339, 362, 385, 411, 436, 462, 487),
    (265, 286, 308, 329, 338, 352, 376, 400, 427, 455, 482, 509),
    (256, 276, 296, 316, 324, 340, 365, 386, 415, 438, 473, 503),
    (236, 255, 275, 294, 302, 316, 339, 362, 388, 414, 440, 466),
    (254, 274, 294, 314, 322, 336, 360, 383, 410, 437, 464, 491),
    (267, 285, 303, 322, 329, 343, 367, 391, 417, 443, 468, 494),
    (238, 259, 280, 302, 310, 324, 348, 371, 396, 421, 445, 470),
    (248, 271, 294, 317, 326, 340, 363, 386, 412, 438, 464, 490),
    (245, 276, 296, 316, 312, 340, 365, 373, 415, 438, 473, 479),
)


def over_outdoor_k(psig: float, outdoor_f: float) -> float:
    temp_k = CoolProp.PropsSI("T", "P", (psig + 14.696) * PSI, "Q", 0, "R410A")
    return float(temp_k) - (outdoor_f + 459.67) / 1.8


def facts(outdoor_k: float | None) -> Facts:
    return bare_facts(
        t=1.0,
        total_kg=1.0,
        values={} if outdoor_k is None else {Role.OUTDOOR_AIR_TEMPERATURE: outdoor_k},
    )


def job(psig: float, outdoor_f: float) -> Job:
    return Job(
        name="invented",
        refrigerant="R-410A",
        target=Target(subcooling_k=5.0, tolerance_k=1.0, source="invented"),
        charge=ChargeLimits(plate_kg=3.0, step_cap_kg=0.1),
        site=Site(altitude_m=0.0),
        performance=Performance(
            source="page 23",
            outdoor_k=(outdoor_f + 459.67) / 1.8,
            liquid_pressure_pa_gauge=psig * PSI,
        ),
    )


HERE = job(340.0, 85.0)


@pytest.mark.parametrize("row", LIQUID_PSIG)
def test_every_printed_unit_lies_inside_the_general_ranges(row: tuple[int, ...]) -> None:
    found = [over_outdoor_k(p, f) for p, f in zip(row, OUTDOOR_F, strict=True)]
    for required_hz in (None, 72.0):
        expected = UsualRanges.of(replace(HERE, hold=Hold(required_hz=required_hz))).condensing
        assert expected.low_si < min(found)
        assert max(found) < expected.high_si
    # What the use of one column for weather 6 K away rests on.
    assert max(found) - min(found) <= 6.2 / 1.8


def test_all_units_together_span_what_the_range_was_made_from() -> None:
    found = [
        1.8 * over_outdoor_k(p, f)
        for row in LIQUID_PSIG
        for p, f in zip(row, OUTDOOR_F, strict=True)
    ]
    assert min(found) == pytest.approx(12.5, abs=0.15)
    assert max(found) == pytest.approx(22.9, abs=0.15)
    held = UsualRanges.of(replace(HERE, hold=Hold(required_hz=72.0))).condensing
    assert 1.8 * held.high_si == pytest.approx(1.2 * 22.9, abs=0.1)


def test_a_column_is_what_coolprop_makes_of_its_pressure() -> None:
    for psig, outdoor_f in ((340.0, 85.0), (503.0, 115.0)):
        here = job(psig, outdoor_f)
        found = documented.condensing(here, facts((outdoor_f + 459.67) / 1.8))
        assert found is not None
        assert not found.assumption
        middle_k = 0.5 * (found.low_si + found.high_si)
        assert middle_k == pytest.approx(over_outdoor_k(psig, outdoor_f), abs=0.05)
        # Ten psi on either side, by CoolProp.
        width_k = over_outdoor_k(psig + 10.0, outdoor_f) - over_outdoor_k(psig - 10.0, outdoor_f)
        assert found.high_si - found.low_si == pytest.approx(width_k, rel=0.03)


def test_a_column_of_other_weather_is_not_used() -> None:
    here = job(340.0, 85.0)
    assert documented.condensing(here, facts((100.0 + 459.67) / 1.8)) is None
    near = documented.condensing(here, facts((90.0 + 459.67) / 1.8))
    at = documented.condensing(here, facts((85.0 + 459.67) / 1.8))
    assert near is not None
    assert at is not None
    assert near.high_si - near.low_si > at.high_si - at.low_si
