"""Scenario files of the stages before charging: what they say, and what is refused and how."""

from pathlib import Path

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import MarkKind, Stage
from chargeassist.model.units import Reference
from chargeassist.plant.evacuation_settings import EvacuationSettings, Place
from chargeassist.plant.nitrogen_circuit import INDOOR
from chargeassist.plant.nitrogen_settings import NitrogenSettings
from chargeassist.plant.vacuum_line import CORE_IN, MANIFOLD, QUARTER_INCH_HOSE
from chargeassist.session.scenario.scenario import Scenario, parse_scenario
from chargeassist.session.scenario.stage import DRYNESS_ROLES, TIGHTNESS_ROLES

TIGHT = 'title = "T"\nabout = "A test."\nstage = "tightness"\njob = "library"\n'
DRY = TIGHT.replace("tightness", "dryness")


def parse(text: str) -> Scenario:
    return parse_scenario(text, "dir/stage.toml", Path())


def lines(*said: str) -> str:
    return "\n".join(said) + "\n"


def test_a_circuit_under_nitrogen_is_read_in_any_unit() -> None:
    scenario = parse(
        TIGHT
        + lines(
            "[nitrogen]", 'pressure = "500 psig"', 'volume = "20 L"',
            "[weather]", 'outdoor = "50 °F"', 'indoor = "20 °C"', 'swing = "9 °F"',
            'swing_period = "6 h"', 'swing_start = "30 min"',
            "[[fault]]", 'kind = "leak"', 'amount = "0.01 mbar L/s"', 'place = "indoor"',
            'at = "5 min"', 'until = "9 min"',
            "[[fault]]", 'kind = "sun"', 'amount = "8 K"', 'at = "1 h"',
        )
    )  # fmt: skip
    assert scenario.stage is Stage.TIGHTNESS
    assert scenario.expected == ()
    assert scenario.unit is None
    unit = scenario.stage_unit
    assert unit is not None
    settings = unit.settings
    assert isinstance(settings, NitrogenSettings)
    assert unit.nitrogen_pa_gauge == pytest.approx(3.447e6, rel=1e-3)
    assert settings.outdoor.volume_m3 + settings.indoor.volume_m3 == pytest.approx(20e-3)
    assert settings.outdoor_k == pytest.approx(283.15)
    assert settings.outdoor_swing_k == pytest.approx(5.0)
    assert (settings.swing_period_s, settings.swing_start_s) == (21600.0, 1800.0)
    assert settings.station_pa_abs == pytest.approx(98_826.0, abs=5.0)  # 210 m
    leak, sun = unit.happenings
    assert (leak.start_s, leak.end_s, leak.place) == (300.0, 540.0, INDOOR)
    assert leak.leak is not None
    # 1e-3 Pa m3/s by its own definition: one atmosphere into vacuum at 20 °C.
    flow = leak.leak.mol_per_s(101_325.0, 0.0, 293.15) * 8.314462618 * 293.15
    assert flow == pytest.approx(1e-3, rel=1e-3)
    assert (sun.start_s, sun.warmer_k, sun.leak) == (3600.0, 8.0, None)
    assert tuple(unit.probes.models) == TIGHTNESS_ROLES


def test_an_evacuation_is_read_in_any_unit() -> None:
    scenario = parse(
        DRY
        + lines(
            "[evacuation]", 'water_far = "5 g"', 'hose = "quarter inch"', 'core = "in"',
            "manifold = true", "ballast = true", 'gauge = "pump"', 'break_to = "5 psig"',
            "[weather]", 'outdoor = "5 °C"', 'indoor = "18 °C"',
            "[[fault]]", 'kind = "heat"', 'amount = "20 K"', 'place = "far"', 'at = "40 min"',
            "[[probes.own]]", 'role = "vacuum"', 'zero = "200 micron"',
        )
    )  # fmt: skip
    unit = scenario.stage_unit
    assert unit is not None
    settings = unit.settings
    assert isinstance(settings, EvacuationSettings)
    assert settings.far_water_kg == pytest.approx(5e-3)
    assert settings.hose == (QUARTER_INCH_HOSE, MANIFOLD, CORE_IN)
    assert settings.near_k == pytest.approx(278.15)
    assert settings.far_k == pytest.approx(291.15)
    assert settings.refrigerant == "R-32"
    assert (unit.gauge, unit.ballast) == (Place.PUMP, True)
    assert unit.nitrogen_pa_gauge == pytest.approx(34.5e3, rel=1e-2)
    assert unit.happenings[0].place == Place.FAR
    assert unit.probes.faults[0].amount == pytest.approx(26.66, abs=0.01)
    channels = {channel.role: channel for channel in unit.probes.channels("unit")}
    assert tuple(channels) == DRYNESS_ROLES
    gauge = channels[Role.VACUUM]
    assert (gauge.unit, gauge.reference) == ("micron", Reference.ABSOLUTE)


def test_the_script_says_what_is_done_before_charging() -> None:
    deeds = {
        "nitrogen on": MarkKind.NITROGEN_ON, "nitrogen off": MarkKind.NITROGEN_OFF,
        "vent": MarkKind.VENTED, "pump on": MarkKind.PUMP_ON, "pump off": MarkKind.PUMP_OFF,
        "shut the pump valve": MarkKind.VALVE_SHUT, "open the pump valve": MarkKind.VALVE_OPENED,
        "mend the leak": MarkKind.LEAK_MENDED, "change the pump oil": MarkKind.OIL_CHANGED,
    }  # fmt: skip
    text = lines("[[script]]", 'at = "1 s"', 'do = "begin"', 'stage = "dryness"') + "".join(
        lines("[[script]]", f'at = "{n} min"', f'do = "{deed}"')
        for n, deed in enumerate(deeds, start=1)
    )
    begun, *rest = parse(DRY + text).script
    assert (begun.kind, begun.text) == (MarkKind.STAGE_BEGUN, "dryness")
    assert [mark.kind for mark in rest] == list(deeds.values())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (TIGHT.replace("tightness", "lunch"), r"stage: expected one of tightness, dryness, charg"),
        (TIGHT + '[plant]\ncharge = "1 kg"\n', r'plant: expected none with stage = "tightness"'),
        (TIGHT + '[nitrogen]\npressure = "9 MPa(g)"\n', r"nitrogen.pressure: expected 0.0001 to"),
        (TIGHT + '[nitrogen]\npressure = "4 MPa(a)"\n', r"nitrogen.pressure: expected a gauge"),
        (TIGHT + '[nitrogen]\nvolume = "1 gallon"\n', r"nitrogen.volume: .*units L, m3"),
        (TIGHT + '[nitrogen]\nvolume = "9 m3"\n', r"nitrogen: .*outdoor volume"),
        (TIGHT + "[evacuation]\n", r"evacuation: unknown key"),
        (DRY + "[nitrogen]\n", r"nitrogen: unknown key"),
        (DRY + '[evacuation]\nballast = "yes"\n', r"ballast: expected true or false"),
        (DRY + '[evacuation]\nhose = "garden"\n', r"hose: expected one of half inch, quarter"),
        (DRY + '[weather]\nswing = "3 K"\n', r"weather.swing: unknown key"),
        (
            DRY + '[[fault]]\nkind = "sun"\namount = "3 K"\n',
            r"fault\[1\].kind: expected one of leak, heat, radio gap",
        ),
        (
            DRY + '[[fault]]\nkind = "leak"\namount = "0.3 g/s"\n',
            r"fault\[1\].amount: .*units Pa m3/s, mbar L/s",
        ),
        (DRY + '[[fault]]\nkind = "leak"\namount = "90 Pa m3/s"\n', r"amount: .*from 1e-07 to 10"),
        (
            DRY + '[[fault]]\nkind = "heat"\namount = "5 K"\nplace = "pump"\n',
            r"place: expected one of near, far",
        ),
        (DRY + '[[fault]]\nkind = "heat"\namount = "45 K"\n', r"amount: expected 0 to 31 K"),
        (
            DRY
            + '[[fault]]\nkind = "heat"\namount = "5 K"\nat = "5 min"\nuntil = "15 min"\n'
            + '[[fault]]\nkind = "heat"\namount = "9 K"\nat = "10 min"\n',
            r"fault\[2\].at: expected none of the same kind at the same time, got one from 300 s",
        ),
        (
            TIGHT + '[[fault]]\nkind = "radio gap"\nat = "1 min"\n',
            r"until: expected when it is over",
        ),
        (TIGHT + '[probes]\nwithout = ["vacuum"]\n', r"without: expected some of suction_pressure"),
        (TIGHT + '[[script]]\nat = "1 s"\ndo = "begin"\n', r"script\[1\].stage: .*missing"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(text: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said) as refused:
        parse(text)
    assert str(refused.value).startswith("dir/stage.toml")


def test_a_blend_can_be_evacuated_too() -> None:
    unit = parse(DRY.replace("library", "bakery")).stage_unit
    assert unit is not None
    assert isinstance(unit.settings, EvacuationSettings)
    assert unit.settings.refrigerant == "R-410A"
