"""The shipped table against published saturation points, from documents.

Each point is copied from the document named in data/saturation_sources.csv; that file also holds
the tolerance of each source with the reason for it. Points known only from memory, points of
unknown origin and points computed with the same equation of state are left out.
"""

import csv
from pathlib import Path

import pytest

from chargeassist.physics.saturation import refrigerant

DATA = Path(__file__).parent / "data"
PSI = 0.45359237 * 9.80665 / 0.0254**2
SEA_LEVEL = 101_325.0


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


POINTS = rows("saturation_points.csv")
SOURCES = {row["source_id"]: row for row in rows("saturation_sources.csv")}


def test_every_point_has_a_source_with_a_tolerance_and_its_reason() -> None:
    assert len(POINTS) >= 40
    assert len({row["refrigerant"] for row in POINTS}) >= 6
    for row in POINTS:
        assert all(value.strip() for value in row.values()), row
        assert row["source_id"] in SOURCES, row
    for source in SOURCES.values():
        assert all(value.strip() for value in source.values()), source
        assert 0.0 < float(source["tolerance_k"]) <= 0.65
    assert {row["source_id"] for row in POINTS} == set(SOURCES)


@pytest.mark.parametrize("source_id", SOURCES)
def test_points_of_a_source_agree_within_its_tolerance(source_id: str) -> None:
    tolerance = float(SOURCES[source_id]["tolerance_k"])
    for row in (row for row in POINTS if row["source_id"] == source_id):
        fluid = refrigerant(row["refrigerant"])
        look_up = {"bubble": fluid.bubble_temp_k, "dew": fluid.dew_temp_k}[row["line"]]
        temp = look_up(float(row["pressure_pa_abs"]))
        assert temp == pytest.approx(float(row["temp_k"]), abs=tolerance), row


def test_no_common_bias_for_pure_refrigerants_of_textbooks() -> None:
    """A table displaced by 30 mK would pass each chart's tolerance, but not this."""
    errors = []
    for row in POINTS:
        if row["source_id"] in ("R22-moran-shapiro", "R744-ohio"):
            temp = refrigerant(row["refrigerant"]).bubble_temp_k(float(row["pressure_pa_abs"]))
            assert isinstance(temp, float)
            errors.append(temp - float(row["temp_k"]))
    assert abs(sum(errors) / len(errors)) < 0.005


def test_248_psig_of_r410a_at_sea_level_is_about_83_fahrenheit() -> None:
    """Common practice, no published source: a figure heard on jobs, rounded to a whole degree."""
    temp = refrigerant("R-410A").bubble_temp_k(248.0 * PSI + SEA_LEVEL)
    assert temp == pytest.approx((83.0 + 459.67) / 1.8, abs=0.5 / 1.8)


@pytest.mark.parametrize(
    ("name", "bubble_f", "dew_f"),
    [
        ("R-410A", 83.074, None),
        ("R-32", 81.71, 81.71),
        ("R-454B", 86.25, 88.96),
        ("R-22", 116.55, 116.55),
        ("R-407C", 106.60, 115.30),
        ("R-134a", 145.69, 145.69),
        ("R-404A", 103.25, 103.85),
        ("R-290", 126.63, 126.63),
    ],
)
def test_saturation_at_248_psig_stays_as_it_was(
    name: str, bubble_f: float, dew_f: float | None
) -> None:
    """Regression only: computed once with CoolProp 8.0.0, printed to 0.01 Fahrenheit.

    R-404A by its pseudo-pure equation; the mixture route has the dew point at 103.86.
    """
    fluid = refrigerant(name)
    pressure = 248.0 * PSI + SEA_LEVEL
    tolerance = 0.006 / 1.8
    assert fluid.bubble_temp_k(pressure) == pytest.approx((bubble_f + 459.67) / 1.8, abs=tolerance)
    if dew_f is not None:
        assert fluid.dew_temp_k(pressure) == pytest.approx((dew_f + 459.67) / 1.8, abs=tolerance)


@pytest.mark.parametrize(
    ("name", "glide_k"),
    [
        ("R-410A", 0.12),
        ("R-454B", 1.46),
        ("R-407C", 4.90),
        ("R-404A", 0.33),
        ("R-448A", 4.98),
        ("R-449A", 4.66),
        ("R-452B", 1.23),
        ("R-513A", 0.00),
        ("R-32", 0.0),
    ],
)
def test_glide_at_40_celsius_bubble_stays_as_it_was(name: str, glide_k: float) -> None:
    """Regression only: computed once with CoolProp 8.0.0."""
    fluid = refrigerant(name)
    pressure = fluid.bubble_pressure_pa_abs(313.15)
    assert isinstance(pressure, float)
    assert fluid.glide_k(pressure) == pytest.approx(glide_k, abs=0.006)


def test_compositions_are_the_nominal_ones_of_ashrae_34() -> None:
    """Each line names its source; where no document was opened it says "from memory"."""
    published = rows("compositions.csv")
    for row in published:
        assert row["source"].strip(), row
        parts = [part.rsplit(" ", 1) for part in row["composition_mass_percent"].split(" / ")]
        expected = {name: float(percent) / 100.0 for name, percent in parts}
        assert dict(refrigerant(row["refrigerant"]).composition) == pytest.approx(expected)
        assert sum(expected.values()) == pytest.approx(1.0)
    opened = [row for row in published if "from memory" not in row["source"]]
    assert {row["refrigerant"] for row in opened} >= {"R-410A", "R-407C", "R-404A", "R-454B"}
