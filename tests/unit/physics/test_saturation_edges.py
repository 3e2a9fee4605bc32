import math
import subprocess
import sys

import numpy as np
import pytest

from chargeassist.model.errors import UnknownRefrigerantError
from chargeassist.model.values import NoValue
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import Refrigerant, refrigerant, refrigerant_names
from chargeassist.physics.table import table_hash


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("R-32", "R-32"),
        ("R32", "R-32"),
        ("r32", "R-32"),
        (" r-410a ", "R-410A"),
        ("R 454 B", "R-454B"),
        ("R\u2011454B", "R-454B"),
        ("R\u2013454B", "R-454B"),
        ("R_134a", "R-134a"),
        ("R134A", "R-134a"),
        ("R1234YF", "R-1234yf"),
        ("R-1234ze(E)", "R-1234ze(E)"),
        ("r1234zee", "R-1234ze(E)"),
    ],
)
def test_spellings_of_a_designation(spelling: str, name: str) -> None:
    assert refrigerant(spelling).name == name


@pytest.mark.parametrize("name", refrigerant_names())
def test_every_listed_name_is_found_and_made_once(name: str) -> None:
    assert refrigerant(name) is refrigerant(name.lower().replace("-", ""))
    assert repr(refrigerant(name)) == f"<Refrigerant {name}>"


@pytest.mark.parametrize("name", ["R-999", "", "32", "water", "R-438A", "R-1234ze"])
def test_an_unknown_refrigerant_is_answered_with_the_list(name: str) -> None:
    with pytest.raises(UnknownRefrigerantError) as caught:
        refrigerant(name)
    for each in refrigerant_names():
        assert each in str(caught.value)
    assert repr(name) in str(caught.value)


def test_a_near_miss_is_answered_with_a_proposal() -> None:
    with pytest.raises(UnknownRefrigerantError, match=r"did you mean R-454B\?"):
        refrigerant("R-4454B")


def reasons(fluid: Refrigerant, pressure_pa_abs: float) -> set[str]:
    """The reason of each look-up by pressure; they must all be without value, and agree."""
    values = [
        fluid.bubble_temp_k(pressure_pa_abs),
        fluid.dew_temp_k(pressure_pa_abs),
        fluid.glide_k(pressure_pa_abs),
        fluid.bubble_slope_k_per_pa(pressure_pa_abs),
        fluid.dew_slope_k_per_pa(pressure_pa_abs),
        subcooling_k(fluid, pressure_pa_abs, 300.0),
        superheat_k(fluid, pressure_pa_abs, 300.0),
    ]
    assert all(isinstance(value, NoValue) for value in values)
    return {value.reason for value in values if isinstance(value, NoValue)}


@pytest.mark.parametrize(
    ("pressure_pa_abs", "reason"),
    [
        (math.nan, "the pressure is not a finite number"),
        (math.inf, "the pressure is not a finite number"),
        (-math.inf, "the pressure is not a finite number"),
        (-5_000.0, "-5 kPa absolute is no pressure: it must be above zero"),
        (0.0, "0 kPa absolute is no pressure: it must be above zero"),
        (5e-324, "0 kPa absolute is below the R-410A table (60 kPa absolute)"),
        (30_000.0, "30 kPa absolute is below the R-410A table (60 kPa absolute)"),
        (
            4_800_000.0,
            "4800 kPa absolute is above the R-410A table (4656 kPa absolute, 95 % of critical)",
        ),
        (
            1e308,
            "1e+305 kPa absolute is above the critical pressure of R-410A (4901 kPa absolute): "
            "there is no saturation temperature",
        ),
    ],
)
def test_a_pressure_without_answer_gives_its_reason(pressure_pa_abs: float, reason: str) -> None:
    (found,) = reasons(refrigerant("R-410A"), pressure_pa_abs)
    assert found == reason


def test_the_ends_of_the_range_belong_to_it_and_their_neighbours_do_not() -> None:
    for name in refrigerant_names():
        fluid = refrigerant(name)
        low, high = fluid.pressure_min_pa_abs, fluid.pressure_max_pa_abs
        assert fluid.bubble_temp_k(low) == pytest.approx(fluid.bubble_temp_min_k, abs=1e-9)
        assert fluid.bubble_temp_k(high) == pytest.approx(fluid.bubble_temp_max_k, abs=1e-9)
        assert fluid.dew_temp_k(low) == pytest.approx(fluid.dew_temp_min_k, abs=1e-9)
        assert fluid.dew_temp_k(high) == pytest.approx(fluid.dew_temp_max_k, abs=1e-9)
        assert isinstance(fluid.bubble_temp_k(math.nextafter(low, 0.0)), NoValue)
        assert isinstance(fluid.dew_temp_k(math.nextafter(high, math.inf)), NoValue)


@pytest.mark.parametrize("temp_k", [math.nan, math.inf, -math.inf, -10.0, 0.0, 100.0, 400.0, 1e308])
def test_a_temperature_without_answer_gives_its_reason(temp_k: float) -> None:
    fluid = refrigerant("R-407C")
    for value in (
        fluid.bubble_pressure_pa_abs(temp_k),
        fluid.dew_pressure_pa_abs(temp_k),
        fluid.saturated_liquid_density_kg_per_m3(temp_k),
    ):
        assert isinstance(value, NoValue)
        assert "finite" in value.reason or "outside the R-407C" in value.reason


@pytest.mark.parametrize("temp_k", [math.nan, math.inf, -math.inf, 0.0, -5.0])
def test_a_line_temperature_that_cannot_be_gives_its_reason(temp_k: float) -> None:
    fluid = refrigerant("R-32")
    for value, place in (
        (subcooling_k(fluid, 2.4e6, temp_k), "liquid-line"),
        (superheat_k(fluid, 1.0e6, temp_k), "suction-line"),
    ):
        assert isinstance(value, NoValue)
        assert place in value.reason


def test_negative_subcooling_and_superheat_are_numbers() -> None:
    fluid = refrigerant("R-32")
    bubble = fluid.bubble_temp_k(2.4e6)
    assert isinstance(bubble, float)
    assert subcooling_k(fluid, 2.4e6, bubble + 3.0) == pytest.approx(-3.0)
    assert superheat_k(fluid, 2.4e6, bubble - 3.0) == pytest.approx(-3.0)


def test_many_pressures_at_once_mark_those_without_answer() -> None:
    fluid = refrigerant("R-454B")
    pressures = np.array(
        [math.nan, -1.0, 1e6, math.inf, 1e308, 2e6, 0.0, fluid.pressure_max_pa_abs]
    )
    bubble, dew = fluid.bubble_temps_k(pressures), fluid.dew_temps_k(pressures)
    answered = [False, False, True, False, False, True, False, True]
    assert np.isfinite(bubble).tolist() == np.isfinite(dew).tolist() == answered
    assert bubble[2] == pytest.approx(fluid.bubble_temp_k(1e6), abs=1e-9)
    assert dew[5] == pytest.approx(fluid.dew_temp_k(2e6), abs=1e-9)
    assert fluid.bubble_temps_k(np.array([])).shape == (0,)


@pytest.mark.parametrize("name", refrigerant_names())
def test_many_pressures_at_once_have_the_same_range_as_one(name: str) -> None:
    fluid = refrigerant(name)
    low, high = fluid.pressure_min_pa_abs, fluid.pressure_max_pa_abs
    pressures = np.array([math.nextafter(low, 0.0), low, high, math.nextafter(high, math.inf)])
    answered = [False, True, True, False]
    assert np.isfinite(fluid.bubble_temps_k(pressures)).tolist() == answered
    assert np.isfinite(fluid.dew_temps_k(pressures)).tolist() == answered


def test_looking_up_loads_numpy_but_not_coolprop() -> None:
    program = (
        "import sys; from chargeassist.physics.saturation import refrigerant; "
        "refrigerant('R-32').bubble_temp_k(2e6); "
        "print('numpy' in sys.modules, any(m.startswith('CoolProp') for m in sys.modules), "
        "'scipy' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["True", "False", "False"]


def test_table_hash_is_a_sha_256() -> None:
    assert len(bytes.fromhex(table_hash())) == 32
