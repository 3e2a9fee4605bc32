"""What is looked up or checked before a job: saturation, a standing cylinder, airflow, probes."""

import json
import math
import re

import pytest

from chargeassist.cli.main import main
from tests.unit.cli.shell import shell


def saturated(
    capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0
) -> tuple[str, str]:
    assert main(["saturation", *arguments]) == code
    out, err = capsys.readouterr()
    return out, err


def test_saturation_of_r410a_at_the_pressure_of_the_trade_example(
    capsys: pytest.CaptureFixture[str],
) -> None:
    # 83.07 °F bubble point at 248 psig and 101.325 kPa: computed with CoolProp 8.0 (HEOS,
    # R410A.mix), an independent implementation; agreement to the last digit printed.
    out, _ = saturated(capsys, "R-410A", "248psig")
    assert "station pressure   101.3" in out
    assert "sea level" in out
    line = next(line for line in out.splitlines() if "bubble" in line)
    assert "83.07 °F" in line
    assert "28.37 °C" in line


def test_saturation_at_altitude_and_by_barometer(capsys: pytest.CaptureFixture[str]) -> None:
    # Standard atmosphere at 1450 m: 85.1 kPa (ICAO Doc 7488, 1993: 84.559 kPa at 1500 m and
    # 85.599 kPa at 1400 m).
    high, _ = saturated(capsys, "R-410A", "248psig", "--altitude", "1450m")
    station = float(high.split("station pressure")[1].split()[0])
    assert 84.559 < station < 85.599
    bubble = next(line for line in high.splitlines() if "bubble" in line)
    sea = next(
        line for line in saturated(capsys, "R-410A", "248psig")[0].splitlines() if "bu" in line
    )
    assert bubble < sea, "the same gauge pressure is less absolute pressure up there"
    same, _ = saturated(capsys, "R-410A", "248psig", "--barometer", "101.325 kPa")
    assert sea in same
    absolute, _ = saturated(capsys, "R-410A", "262.696 psia")
    assert "station" not in absolute
    assert sea in absolute


def test_saturation_gives_subcooling_too(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = saturated(capsys, "R-410A", "248psig", "--line", "73.07 °F")
    assert "subcooling         5.56 K  10.00 °F" in out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        # CoolProp 8.0: R-32 boils at -59.48 °C at 5 psi below the pressure of the sea level.
        (["saturation", "R-32", "-5psig", "--altitude", "0m"], "−59.48 °C"),
        # 28.37 °C less -10 °C; the bubble point as above.
        (["saturation", "R-410A", "248psig", "--line", "-10°C"], "subcooling         38.37 K"),
        (["saturation", "R-410A", "248psig", "--altitude", "-100m"], "102.53 kPa"),
        (["standing", "R-32", "80psig", "-5°C", "--rested", "5h", "--limit", "5psi"], "probe"),
        (["airflow", "10kW", "-.5°C", "9.5°C"], "indoor airflow"),
    ],
)
def test_an_amount_below_zero_needs_no_tricks(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) in {0, 1}
    assert told in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        ("saturation R-410A 248 psig", True),
        ("standing R-32 200 psig 68 °F", True),
        ("airflow 10kW 70 °F 101 °F", True),
        ("saturation R-410A 248psig now", False),
    ],
)
def test_a_unit_that_stands_alone_is_told_how_to_be_written(
    words: str, hint: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(words.split())
    assert left.value.code == 2
    assert ('one word: 248psig, or "248 psig"' in capsys.readouterr().err) is hint


def test_saturation_outside_the_table_is_code_1(capsys: pytest.CaptureFixture[str]) -> None:
    out, err = saturated(capsys, "R-32", "20 MPa(a)", code=1)
    assert "bubble" not in out
    assert "R-32: no value: " in err


def test_saturation_lists_every_refrigerant(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = saturated(capsys, "list")
    assert {"R-32", "R-410A", "R-22"} <= set(out.split())


def test_airflow_by_the_heat_of_a_printed_example(capsys: pytest.CaptureFixture[str]) -> None:
    # cfm = V A 3.414 / (1.08 dT), easymanua.ls/heat-controller/rse1318-1a/manual, page 14: 240 V
    # and 41.7 A warm 1 000 cfm by 31.6 °F. 1.08 stands for 13.33 ft3/lb of dry air; at 70 °F and
    # 30 % it is 13.44 (psychrolib), and its heat capacity 0.242 for 0.24 Btu/(lb °F).
    words = ["airflow", "10.008kW", "70°F", "101.6°F", "--humidity", "30%"]
    assert main([*words, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["flow_m3_per_s"] / (0.3048**3 / 60.0) == pytest.approx(1000.0, rel=0.01)
    assert said["expanded_m3_per_s"] / said["flow_m3_per_s"] == pytest.approx(
        math.hypot(0.03, math.sqrt(2.0) * 0.5 / (31.6 / 1.8)), rel=1e-6
    )
    assert main([*words, "--capacity", "3ton", "--altitude", "1450m"]) == 0
    out = capsys.readouterr().out
    assert "cfm/ton" in out
    assert "standard atmosphere at 1450 m" in out
    assert main(["airflow", "10kW", "70°F", "71°F"]) == 1
    assert "too little to tell the flow" in capsys.readouterr().err
    assert main(["airflow", "10kW", "70°F", "101°F", "--humidity", "150%"]) == 1
    assert main(["airflow", "warm", "70°F", "101°F"]) == 2


@pytest.mark.parametrize(
    ("command", "argument", "told"),
    [
        ("airflow 10kW 70°F 101°F", "--capacity=0ton", "more than 0"),
        ("airflow 10kW 70°F 101°F", "--capacity=-3ton", "more than 0"),
        ("airflow 10kW 70°F 101°F", "--heat-within=-3%", "0 or more"),
        ("airflow 10kW 70°F 101°F", "--uncertainty=-1K", "0 or more"),
        ("standing R-32 200psig 68°F", "--rested=-5h", "0 or more"),
        ("standing R-32 200psig 68°F", "--needs=-1h", "0 or more"),
        ("standing R-32 200psig 68°F", "--uncertainty=-1K", "0 or more"),
    ],
)
def test_what_has_no_sign_is_refused_with_one(
    command: str, argument: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command.split(), argument]) == 2
    name, _, value = argument.partition("=")
    assert f"{name}: expected {told}, got {value}" in capsys.readouterr().err


def test_probes_lists_adapters_and_ports(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["probes"]) == 0
    out, err = capsys.readouterr()
    assert {"serial:", "mqtt:", "simulator:", "recording:"} <= {
        line.split()[0] for line in out.splitlines()
    }
    assert "topics of a broker: mqtt://localhost:1883" in out
    assert "chargeassist probes --guide" in err
    assert all(len(line) < 80 for line in out.splitlines())


@pytest.mark.parametrize(
    ("unit", "role"),
    [
        ("", "liquid_pressure"),
        ("psig", "liquid_pressure"),
        ("micron", "vacuum"),
        ("mmHg", "vacuum"),
        ("°F", "liquid_temperature"),
        ("oz", "cylinder_mass"),
        ("A", "compressor_current"),
        ("Hz", "compressor_frequency"),
        ("V", "voltage_ab"),
    ],
)
def test_a_unit_alone_says_what_a_probe_measures(
    unit: str, role: str, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["probes", "serial:/dev/no-such-port", "--seconds", "0.05"]
    assert main([*words, *(["--unit", unit] if unit else [])]) == 1
    assert f"({role})" in capsys.readouterr().err


def test_probes_shows_what_the_simulator_delivers(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LC_ALL", "de_DE.UTF-8")
    assert main(["probes", "simulator:?seed=3&rate=10Hz", "--seconds", "0.3"]) == 0
    out = capsys.readouterr().out
    assert "liquid line pressure" in out
    # The probe's own unit first, then that of the reader's locale.
    assert re.search(r"liquid line pressure +[\d.]+ psig \(\d+ kPa gauge\)", out), out
    assert re.search(r"outdoor air +[\d.]+ °F \([\d.]+ °C\)", out)
    monkeypatch.setenv("LC_ALL", "en_US.UTF-8")
    assert main(["probes", "simulator:?seed=3&rate=10Hz", "--seconds", "0.3"]) == 0
    out = capsys.readouterr().out
    assert re.search(r"liquid line pressure +[\d.]+ psig$", out, re.MULTILINE), out
    assert "kPa" not in out


def test_a_standing_cylinder_judges_a_pressure_probe() -> None:
    # R-32 at 20.0 °C: 1474 kPa absolute (CoolProp 8.0), 199.1 psig at sea level.
    words = ("R-32", "199psig", "68°F", "--rested", "5h")
    agrees = shell("standing", *words, "--uncertainty", "0.2K", "--limit", "4psi")
    assert agrees.returncode == 0, agrees.stdout + agrees.stderr
    assert "agrees with saturation" in agrees.stdout
    assert "not certain" in shell("standing", *words, "--uncertainty", "0.48K").stdout
    hidden = shell("standing", *words).stdout  # half a kelvin and the weather hide 3 psi
    assert "too uncertain" in hidden
    assert "kPa ± 15 hPa" in hidden
    shifted = shell("standing", "R-32", "215psig", *words[2:])
    assert shifted.returncode == 1
    assert "shifted" in shifted.stdout
    early = shell("standing", *words[:3], "--rested", "3h")
    assert "not at rest" in early.stdout
    assert "4 h: default of this program: California" in early.stdout
    fine = ("--uncertainty", "0.2K", "--limit", "4psi", "--needs", "2h")
    assert shell("standing", *words[:3], "--rested", "3h", *fine).returncode == 0
    assert shell("standing", *words, "--limit", "3psig").returncode == 2
