"""Scenario files: what they say, what is refused and how; the parts by themselves."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from chargeassist.model.channels import VOLTAGE_ROLES, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Action, Advice, Event, Mark, MarkKind, Outcome, SessionStopped
from chargeassist.plant.faults import FaultSchedule
from chargeassist.plant.metering import ValveKind
from chargeassist.plant.probe_set import ProbeFaultKind
from chargeassist.session.scenario.expect import Expected, ended_in, missed
from chargeassist.session.scenario.scenario import (
    Scenario,
    find_scenario,
    parse_scenario,
    place_and_seed,
    shipped_text,
)

LONG_NUMBER = "0x" + "f" * 7000
"""Inside the longest line, and beyond the digits Python writes in decimals."""

SMALLEST = """
title = "Short"
about = "A test."
expect = "stop"
job = "library"
[plant]
charge = "1.90 kg"
"""


def parse(text: str) -> Scenario:
    return parse_scenario(text, "dir/short.toml", Path())


def with_lines(*lines: str) -> str:
    return SMALLEST + "\n".join(lines) + "\n"


def test_the_smallest_scenario_takes_the_rest_from_its_job() -> None:
    scenario = parse(SMALLEST)
    assert scenario.name == "short"
    assert scenario.pilot
    assert scenario.expected == (Expected(Action.STOP),)
    assert [source.url for source in scenario.job.sources] == ["simulator:short.toml?seed=1"]
    assert scenario.unit is not None
    settings = scenario.unit.settings
    assert (settings.refrigerant, settings.plate_kg, settings.charge_kg) == ("R-32", 2.3, 1.9)
    assert (settings.required_hz, settings.start_hz) == (72.0, 30.0)
    assert settings.altitude_m == 210.0
    assert settings.hold_s == 3600.0  # the job's hold_lasts
    assert scenario.unit.commands == ((30.0, None),)
    roles = {channel.role for channel in scenario.unit.probes.channels("unit")}
    assert roles == set(Role) - {
        Role.BAROMETER, Role.VACUUM, Role.RETURN_AIR_WET_BULB, Role.RETURN_AIR_HUMIDITY,
        *VOLTAGE_ROLES,
    }  # fmt: skip


def test_plant_weather_and_belief_are_read_in_any_unit() -> None:
    text = SMALLEST.replace('job = "library"', 'job = "library"\nweighed_in = "4 lb"')
    scenario = parse(
        text
        + 'size = "3 ton"\nmetering = "orifice"\nfrequency = "60 Hz"\n'
        + '[weather]\noutdoor = "86 °F"\nreturn_air = "77 °F"\nreturn_wet_bulb = "64 °F"\n'
    )
    assert scenario.unit is not None
    settings = scenario.unit.settings
    assert settings.capacity_w == pytest.approx(10551.0, abs=1.0)  # 3 x 12000 Btu/h
    assert settings.valve is ValveKind.ORIFICE
    assert settings.required_hz == 60.0
    assert settings.outdoor_k == pytest.approx(303.15)
    assert settings.return_k == pytest.approx(298.15)
    assert scenario.job.charge.weighed_in_kg == pytest.approx(4 * 0.45359237)


def test_a_fault_grows_and_ends_when_the_file_says() -> None:
    scenario = parse(
        with_lines(
            "[[fault]]", 'kind = "indoor airflow"', 'amount = "40 %"', 'at = "5 min"',
            'over = "2 min"', 'until = "20 min"',
            "[[fault]]", 'kind = "leak"', 'amount = "0.3 g/s"',
            "[[fault]]", 'kind = "oil return"', 'amount = "90 Hz"', 'at = "9 min"',
            'until = "10 min"',
            "[[fault]]", 'kind = "frequency drop"', 'amount = "45 Hz"', 'at = "1 min"',
            'until = "2 min"',
        )
    )  # fmt: skip
    assert scenario.unit is not None
    settings = scenario.unit.settings
    air, air_back, leak = settings.courses
    assert (air.name, air.amount, air.start_s, air.full_s) == ("indoor_air_share", 0.4, 300, 420)
    assert (air_back.amount, air_back.start_s, air_back.full_s) == (1.0, 1200.0, 1200.0)
    assert leak.name == "leak_kg_per_s"
    assert leak.amount == pytest.approx(3e-4)
    assert (settings.oil_return_at_s, settings.oil_return_for_s) == (540.0, 60.0)
    assert settings.oil_return_hz == 90.0
    assert scenario.unit.commands == ((30.0, None), (60.0, 45.0), (120.0, None))


def test_a_defrost_is_an_interruption_from_when_to_when() -> None:
    scenario = parse(with_lines("[[fault]]", 'kind = "defrost"', 'at = "6 min"', 'until = "9 min"'))
    assert scenario.unit is not None
    settings = scenario.unit.settings
    assert (settings.defrost_at_s, settings.defrost_for_s) == (360.0, 180.0)
    usual = parse(SMALLEST).unit
    assert usual is not None
    assert usual.settings.defrost_at_s < 0.0


def test_probes_differ_from_their_grade_where_the_file_says() -> None:
    scenario = parse(
        with_lines(
            "[probes]", 'grade = "coarse"', 'without = ["supply_air_temperature"]',
            "[[probes.own]]", 'role = "liquid_temperature"', 'noise = "3 times"', 'lag = "20 s"',
            'zero = "-0.9 °F"',
            "[[probes.fault]]", 'role = "liquid_pressure"', 'kind = "zero"', 'amount = "8 psi"',
            'at = "10 min"', 'over = "5 min"',
            "[[fault]]", 'kind = "radio gap"', 'at = "3 min"', 'until = "4 min"',
            'probes = ["liquid_pressure"]',
        )
    )  # fmt: skip
    assert scenario.unit is not None
    probes = scenario.unit.probes
    plain = parse(with_lines("[probes]", 'grade = "coarse"')).unit
    assert plain is not None
    own, usual = (p.models[Role.LIQUID_TEMPERATURE] for p in (probes, plain.probes))
    assert own.lag_s == 20.0
    assert own.noise_si == pytest.approx(3.0 * usual.noise_si)
    zero, creeping = probes.faults
    assert zero.trouble is ProbeFaultKind.ZERO
    assert zero.amount == pytest.approx(-0.5)
    assert creeping.amount == pytest.approx(55158.06)
    assert (creeping.start_s, creeping.full_s) == (600.0, 900.0)
    assert Role.SUPPLY_AIR_TEMPERATURE not in probes.models
    gap = scenario.unit.silences[0]
    assert gap.covers(Role.LIQUID_PRESSURE, 180.0)
    assert not gap.covers(Role.LIQUID_PRESSURE, 240.0)
    assert not gap.covers(Role.SUCTION_PRESSURE, 200.0)


def test_the_script_is_put_in_order_of_time() -> None:
    scenario = parse(
        with_lines(
            "[[script]]", 'at = "9 min"', 'do = "recover"', 'mass = "100 g"',
            "[[script]]", 'at = "2 min"', 'do = "note"', 'text = "look"',
            "[[script]]", 'at = "4 min"', 'do = "charge mode"',
        )
    )  # fmt: skip
    kinds = [(m.t, m.kind, m.mass_kg, m.frequency_hz) for m in scenario.script]
    assert kinds == [
        (120.0, MarkKind.NOTE, None, None),
        (240.0, MarkKind.FREQUENCY_HELD, None, 72.0),
        (540.0, MarkKind.STEP_ENDED, pytest.approx(-0.1), None),
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SMALLEST.replace("1.90 kg", "9 kg"), r"short.toml: plant: .*charge from 0.69 to 3.68 kg"),
        (SMALLEST.replace("charge", "chage"), r"plant.charge: expected a mass .* key is missing"),
        (SMALLEST + 'colour = "red"\n', r"plant.colour: unknown key.*known: .*charge"),
        (SMALLEST.replace("[plant]", "[plan]"), r"plant: expected a table, but it is missing"),
        (SMALLEST.replace('"library"', '"museum"'), r"job: expected one of library, bakery"),
        (SMALLEST.replace('"stop"', '"go"'), r"expect: expected one of wait, add, .*got 'go'"),
        (SMALLEST.replace('"stop"', "3"), r'expect: expected a verdict such as "stop"'),
        (SMALLEST.replace('expect = "stop"', ""), r"expect: expected a verdict .*got nothing"),
        (SMALLEST.replace('"stop"', LONG_NUMBER), r"expect: .*got something very long \(number\)"),
        (SMALLEST.replace("title", f"finds = {LONG_NUMBER}\ntitle"), r"finds: .*very long"),
        (
            SMALLEST.replace("title", 'finds = ["expansion valve hunt"]\ntitle'),
            r'short.toml: finds: expected some of "short of refrigerant", .*refrigerant is leaking '
            r"out.*got 'expansion valve hunt'.*did you mean 'expansion valve hunts'",
        ),
        (
            SMALLEST.replace("title", 'finds = ["nothing out of order"]\ntitle'),
            r"finds: expected some of",
        ),
        (SMALLEST.replace("title", f"seed = {LONG_NUMBER}\ntitle"), r"seed: .*very long"),
        (with_lines("[probes]", f"without = {LONG_NUMBER}"), r"without: .*very long"),
        (
            with_lines("[[fault]]", 'kind = "radio gap"', 'until = "8 s"', f"probes={LONG_NUMBER}"),
            r"probes: .*very long",
        ),
        (SMALLEST.replace("title", "seed = -1\ntitle"), r"seed: expected a whole number"),
        (SMALLEST.replace("title", 'start = "noon"\ntitle'), r"start: expected a time with its"),
        (SMALLEST.replace("title", 'identity = "x"\ntitle'), r"identity: expected 32 hexadecimal"),
        (SMALLEST.replace("title", 'technician = "me"\ntitle'), r"expected one of pilot, script"),
        (SMALLEST.replace("title", 'lasts = "9 h"\ntitle'), r"lasts: expected 60 to 14400 s"),
        (SMALLEST + 'metering = "magic"\n', r"plant.metering: .*thermostatic, electronic, orifice"),
        (SMALLEST + 'size = "3 hp"\n', r"plant.size: expected a number with one of the units kW"),
        (SMALLEST + 'refrigerant = "R-999"\n', r"plant: .*R-999"),
        (with_lines("[[fault]]", 'kind = "fire"'), r"fault\[1\].kind: .*non-condensables"),
        (
            with_lines("[[fault]]", 'kind = "leak"', 'amount = "3 psi"'),
            r"fault\[1\].amount: expected a number with one of the units g/s, g/min, got '3 psi'",
        ),
        (with_lines("[[fault]]", 'kind = "leak"'), r"fault\[1\].amount: .*but the key is missing"),
        (
            with_lines("[[fault]]", 'kind = "stuck valve"', 'amount = "900 %"'),
            r"amount: the fault valve_stuck goes from 0 to 3, came 9",
        ),
        (
            with_lines("[[fault]]", 'kind = "stuck valve"', 'amount = "60 %"', 'over = "9 s"'),
            r"over: expected none: a stuck valve comes at once",
        ),
        (
            with_lines("[[fault]]", 'kind = "radio gap"', 'at = "9 s"'),
            r"until: expected when it is over",
        ),
        (
            with_lines("[[fault]]", 'kind = "radio gap"', 'at = "9 s"', 'until = "8 s"'),
            r"until: expected later than at",
        ),
        (
            with_lines("[[fault]]", 'kind = "frequency drop"', 'amount = "400 Hz"'),
            r"amount: expected 11 to 108 Hz, got 400 Hz",
        ),
        (
            with_lines("[[fault]]", 'kind = "radio gap"', 'until = "8 s"', 'probes = ["nose"]'),
            r"probes: expected roles such as liquid_pressure",
        ),
        (with_lines("[[fault]]", 'kind = "defrost"', 'at = "1 min"'), r"until: expected when it"),
        (
            with_lines("[[fault]]", 'kind = "defrost"', 'at = "1 min"', 'until = "20 min"'),
            r"until: expected a defrost of up to 15 min, got 1140 s",
        ),
        (
            with_lines(*["[[fault]]", 'kind = "defrost"', 'until = "2 min"'] * 2),
            r"fault\[2\].kind: expected one defrost at most",
        ),
        (
            with_lines("[[fault]]", 'kind = "leak"', 'amount = "1 g/s"', 'at = "9 min"',
                       "[[fault]]", 'kind = "leak"', 'amount = "2 g/s"', 'until = "10 min"'),
            r"fault\[2\].at: expected none of the same kind at the same time, got one from 540 s",
        ),
        (
            with_lines(*["[[fault]]", 'kind = "frequency drop"', 'amount = "40 Hz"',
                         'at = "1 min"', 'until = "3 min"'] * 2),
            r"fault\[2\].at: .*got one from 60 s to 180 s besides",
        ),
        (with_lines("[probes]", 'grade = "gold"'), r"probes.grade: .*good, usual, coarse"),
        (
            with_lines("[probes]", 'without = ["liquid_pressure"]'),
            r"probes.without: expected some of suction_pressure",
        ),
        (
            with_lines("[[probes.fault]]", 'role = "liquid_pressure"', 'kind = "loose"',
                       'amount = "9 %"'),
            r"probes.fault\[1\].amount: only a clamp can be loose",
        ),
        (
            with_lines("[[probes.own]]", 'role = "liquid_pressure"', 'zero = "1 K"'),
            r"probes.own\[1\].zero: expected a number with one of the units kPa",
        ),
        (
            with_lines("[[script]]", 'at = "1 min"', 'do = "dance"'),
            r"script\[1\].do: expected one of open the valve",
        ),
        (with_lines("[[script]]", 'do = "note"'), r"script\[1\].at: .*but the key is missing"),
        (with_lines("[weather]", 'outdoor = "60 °C"'), r"weather.outdoor: expected 263"),
        ("title = [", r"dir/short.toml: expected TOML"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_file_key_and_what_was_expected(
    text: str, said: str
) -> None:
    with pytest.raises(ConfigError, match=said) as refused:
        parse(text)
    assert str(refused.value).startswith("dir/short.toml")


@pytest.mark.parametrize("key", ["start", "expect"])
def test_a_refusal_holds_no_escape_code(key: str) -> None:
    text = SMALLEST.replace('expect = "stop"', "") if key == "expect" else SMALLEST
    with pytest.raises(ConfigError, match=key) as refused:
        parse(f'{key} = "\\u001b[2Jx"\n{text}')
    assert "\x1b" not in str(refused.value)


def test_a_job_of_its_own_has_no_source() -> None:
    source = find_scenario("store-room", Path())
    assert source.job.refrigerant == "R-454B"
    text = (
        SMALLEST.replace('job = "library"', "") + '[job]\nname = "x"\n[[job.source]]\nurl = "a:"\n'
    )
    with pytest.raises(ConfigError, match=r"job.source: expected none"):
        parse(text)


def test_a_job_file_lies_beside_the_scenario(tmp_path: Path) -> None:
    data = Path(__file__).resolve().parents[4] / "chargeassist" / "data"
    job = (data / "bakery.toml").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    text = SMALLEST.replace('"library"', '"job.toml"').replace("1.90 kg", "3 kg")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    scenario = find_scenario("mine.toml", tmp_path)
    assert scenario.job.refrigerant == "R-410A"
    assert scenario.job.sources[0].url == "simulator:mine.toml?seed=1"
    assert scenario.folder == tmp_path


def test_a_scenario_that_is_not_there_names_those_that_are(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"'nowhere' is no shipped scenario.*clean-charge"):
        find_scenario("nowhere", tmp_path)
    with pytest.raises(ConfigError, match=r"nowhere.toml: cannot be read"):
        find_scenario("nowhere.toml", tmp_path)


def test_an_address_has_a_place_and_perhaps_a_seed() -> None:
    assert place_and_seed("radio-gap") == ("radio-gap", None)
    assert place_and_seed("a/b.toml?seed=12") == ("a/b.toml", 12)
    with pytest.raises(ConfigError, match=r"expected \?seed=N"):
        place_and_seed("radio-gap?sed=1")


def said(*advice: tuple[float, Action, str], end_t: float) -> Iterator[Event]:
    for t, action, cause in advice:
        yield Advice(t=t, action=action, cause=cause)
    yield SessionStopped(t=end_t, outcome=Outcome.COMPLETE)


def test_a_session_ends_in_what_stood_longest_in_its_last_minute() -> None:
    events = tuple(
        said(
            (1.0, Action.RECOVER, "above"), (500.0, Action.STOP, "inside"),
            (570.0, Action.STOP, "inside_not_certain"), (595.0, Action.WAIT, "settling"),
            end_t=600.0,
        )
    )  # fmt: skip
    assert ended_in(events) == {
        Expected(Action.STOP, "inside"): 30.0,
        Expected(Action.STOP, "inside_not_certain"): 25.0,
        Expected(Action.WAIT, "settling"): 5.0,
        Expected(Action.RECOVER, "above"): 0.0,
    }
    assert missed((Expected(Action.RECOVER), Expected(Action.STOP)), events) == ""
    assert "ended in 'stop: inside'" in missed((Expected(Action.WAIT),), events)
    assert "on the way" in missed((Expected(Action.ADD), Expected(Action.STOP)), events)
    wrong_order = (Expected(Action.STOP), Expected(Action.RECOVER), Expected(Action.STOP))
    assert "on the way" in missed(wrong_order, events)
    assert "nothing" in missed((Expected(Action.STOP),), ())


def test_a_mark_needs_no_more_than_it_says() -> None:
    script = parse(with_lines("[[script]]", 'at = "1 s"', 'do = "open the valve"')).script
    assert script == (Mark(t=1.0, kind=MarkKind.STEP_BEGUN),)


def test_faults_of_one_kind_may_follow_one_another() -> None:
    unit = parse(
        with_lines(
            "[[fault]]", 'kind = "leak"', 'amount = "1 g/s"', 'until = "9 min"',
            "[[fault]]", 'kind = "leak"', 'amount = "2 g/s"', 'at = "9 min"',
            "[[fault]]", 'kind = "leak"', 'amount = "3 g/s"', 'at = "12 min"',
        )
    ).unit  # fmt: skip
    assert unit is not None
    schedule = FaultSchedule(unit.settings.faults, unit.settings.courses)
    leaks = [schedule.at(t).leak_kg_per_s for t in (60.0, 600.0, 800.0)]
    assert leaks == pytest.approx([0.001, 0.002, 0.003])


@pytest.mark.parametrize("later_first", [False, True])
def test_a_fault_that_follows_another_at_once_is_not_ended_by_it(*, later_first: bool) -> None:
    kinds = (("indoor airflow", "60 %", "45 %"), ("frequency drop", "50 Hz", "55 Hz"))
    lines = []
    for kind, first, second in kinds:
        fault = ("[[fault]]", f'kind = "{kind}"')
        both = [
            (*fault, f'amount = "{first}"', 'until = "10 min"'),
            (*fault, f'amount = "{second}"', 'at = "10 min"'),
        ]
        lines += both[::-1] if later_first else both
    scenario = parse(with_lines(*(line for table in lines for line in table)))
    assert scenario.unit is not None
    settings = scenario.unit.settings
    assert FaultSchedule(settings.faults, settings.courses).at(
        601.0
    ).indoor_air_share == pytest.approx(0.45)
    assert [hz for t, hz in scenario.unit.commands if t == 600.0][-1] == 55.0


@pytest.mark.parametrize("name", ["R-32+leak.toml", "what?.toml"])
def test_a_file_name_that_would_be_taken_for_an_address_is_refused(
    tmp_path: Path, name: str
) -> None:
    (tmp_path / name).write_text(shipped_text("clean-charge"), encoding="utf-8")
    with pytest.raises(ConfigError, match="rename the file"):
        find_scenario(name, tmp_path)
