"""The builder's guards, with a counterfeit CoolProp state that fails and lies on demand."""

import json
import math
from itertools import pairwise
from pathlib import Path

import pytest

from chargeassist.physics import build_tables, table
from chargeassist.physics.build_tables import BuildError


class Counterfeit:
    """T = 100 ln p, except where told to fail or to return a root that is off."""

    def __init__(self, *, fails_at: int = -1, lies_at: int = -1, off_k: float = 0.0) -> None:
        self.fails_at, self.lies_at, self.off_k = fails_at, lies_at, off_k
        self.calls = 0
        self.temp = math.nan

    def update(self, inputs: int, pressure_pa_abs: float, quality: float) -> None:
        self.calls += 1
        if self.calls - 1 == self.fails_at:
            raise ValueError("Brent's method f(b) is NAN")
        self.temp = 100.0 * math.log(pressure_pa_abs)
        if self.calls - 1 == self.lies_at:
            self.temp += self.off_k

    def T(self) -> float:  # noqa: N802 - CoolProp's name
        return self.temp

    def rhomass(self) -> float:
        return 1000.0


PRESSURES = build_tables.grid(1e5, 2e5, 11)


def test_walk_returns_every_point() -> None:
    line = build_tables.walk(Counterfeit(), 0.0, PRESSURES, mixture=False)
    assert [temp for temp, _ in line] == pytest.approx([100.0 * math.log(p) for p in PRESSURES])


def test_a_small_departure_passes_and_a_wrong_root_stops_the_build() -> None:
    build_tables.walk(Counterfeit(lies_at=6, off_k=0.02), 0.0, PRESSURES, mixture=False)
    with pytest.raises(BuildError, match="no trusted root at"):
        build_tables.walk(Counterfeit(lies_at=6, off_k=-11.0), 0.0, PRESSURES, mixture=False)


def test_a_wrong_root_at_the_start_stops_the_build_too() -> None:
    for start in range(3):
        with pytest.raises(BuildError):
            build_tables.walk(Counterfeit(lies_at=start, off_k=5.0), 1.0, PRESSURES, mixture=False)


def test_a_hole_stops_the_build() -> None:
    with pytest.raises(BuildError, match="q=0"):
        build_tables.walk(Counterfeit(fails_at=4), 0.0, PRESSURES, mixture=False)


def test_a_number_that_is_none_stops_the_build() -> None:
    state = Counterfeit(lies_at=5, off_k=math.nan)
    with pytest.raises(BuildError):
        build_tables.walk(state, 0.0, PRESSURES, mixture=False)


def test_the_guided_flash_passes_where_the_plain_one_fails() -> None:
    """R-410A as a mixture has a hole near 2.5 MPa in CoolProp 8.0 (and others elsewhere)."""
    state = build_tables.new_state("R-410A", as_mixture=True)
    grid = build_tables.grid(100_000.0, 3_000_000.0, 200)
    line = build_tables.walk(state, 0.0, grid, mixture=True)
    temps = [temp for temp, _ in line]
    assert temps == sorted(temps)


@pytest.mark.parametrize("version", ["6.8.0", "7.2.0", "7.99"])
def test_older_coolprop_is_refused_with_what_to_do(version: str) -> None:
    with pytest.raises(BuildError, match=r'pip install "CoolProp>=8\.0\.0"'):
        build_tables.require_coolprop(version)


@pytest.mark.parametrize("version", ["8.0.0", "8.0.1.dev0", "8.1", "10.0.0"])
def test_newer_coolprop_is_accepted(version: str) -> None:
    build_tables.require_coolprop(version)


def test_extrapolation_is_exact_for_a_parabola() -> None:
    points = [(x, 3.0 + 2.0 * x - 0.5 * x * x) for x in (1.0, 1.5, 3.0)]
    assert build_tables.extrapolate(points, 4.0) == pytest.approx(3.0 + 8.0 - 8.0)


def test_grid_is_uniform_in_ln_p_and_holds_both_ends_exactly() -> None:
    grid = build_tables.grid(60_000.0, 4_656_000.0, 257)
    assert (grid[0], grid[-1], len(grid)) == (60_000.0, 4_656_000.0, 257)
    ratios = [after / before for before, after in pairwise(grid)]
    assert ratios == pytest.approx([ratios[0]] * 256, rel=1e-12)


@pytest.mark.parametrize("name", ["R-32", "R-410A", "R-454B", "R-513A"])
def test_building_again_gives_the_shipped_rows(name: str) -> None:
    """0.05 mK, not equality: another processor may round the last digit of six otherwise."""
    rebuilt = build_tables.build_entry(name)
    shipped = table.shipped_table().entries[name]
    assert rebuilt["bubble_temp_k"] == pytest.approx(shipped.bubble_temp_k, abs=5e-5)
    assert rebuilt["dew_temp_k"] == pytest.approx(shipped.dew_temp_k, abs=5e-5)
    assert rebuilt["low_pa_abs"] == shipped.low_pa_abs
    assert rebuilt["high_pa_abs"] == shipped.high_pa_abs


@pytest.fixture
def one_refrigerant(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(build_tables, "PURE", {"R-32": "R32"})
    monkeypatch.setattr(build_tables, "BLENDS", {})


@pytest.mark.usefixtures("one_refrigerant")
def test_check_tells_the_same_file_from_a_changed_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "made.json"
    options = ["--output", str(path)]
    assert build_tables.main(options) == 0
    made = path.read_bytes()
    assert build_tables.main([*options, "--check"]) == 0
    assert "the same" in capsys.readouterr().out
    assert path.read_bytes() == made

    document = json.loads(path.read_text())
    del document["sha256"]
    document["refrigerants"]["R-32"]["dew_temp_k"][7] += 0.25
    path.write_text(table.encode(document))
    assert build_tables.main([*options, "--check"]) == 1
    assert "largest difference of a saturation temperature 0.25 K" in capsys.readouterr().out

    path.write_text("{}")
    assert build_tables.main([*options, "--check"]) == 2
    assert "came another file" in capsys.readouterr().err
    assert build_tables.main(["--check", "--output", str(tmp_path / "none.json")]) == 2


def test_an_old_coolprop_ends_the_program_before_anything_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("CoolProp.__version__", "7.2.0")
    path = tmp_path / "made.json"
    assert build_tables.main(["--output", str(path)]) == 2
    assert "expected CoolProp 8.0.0 or newer, came 7.2.0" in capsys.readouterr().err
    assert not path.exists()
