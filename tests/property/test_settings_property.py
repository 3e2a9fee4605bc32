"""Whatever a settings file says: it is read, or refused by name; nothing else ever comes out.

Job files and answers to questions have tests of their own; here are the shipped profiles and
scenarios and the map of a log, each line of them replaced by something else.
"""

import time
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.model.errors import ConfigError
from chargeassist.qa.log_map import read_map
from chargeassist.qa.log_text import read_table
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.job.profiles import parse_profiles
from chargeassist.session.job.toml_table import toml_of
from chargeassist.session.scenario.scenario import parse_scenario

DATA = files("chargeassist") / "data"
PROFILES = (DATA / "profiles.toml").read_text(encoding="utf-8")
CIRCUIT = (DATA / "profiles-circuit.toml").read_text(encoding="utf-8")
SCENARIOS = {
    name: (DATA / "scenarios" / f"{name}.toml").read_text(encoding="utf-8")
    for name in ("fixed-orifice", "loose-clamp", "nitrogen-leak", "vacuum-moist", "hunting-valve")
}
LOG = "Time,P liquid (psi),T liquid (°C)\n2026-05-04T08:10:00Z,250,31.5\n"
MAP = """
encoding = "utf-8"
separator = ","
decimal = "."
zone = "+02:00"
started = "2026-05-04T08:10:00Z"
outcome = "complete"
[time]
column = "Time"
form = "elapsed"
unit = "s"
[[probe]]
role = "liquid_pressure"
select = "P liquid"
unit = "psig"
accuracy = "1 psi"
[[probe]]
role = "liquid_temperature"
select = "3"
scale = 1.0
[[script]]
at = "12 min"
do = "shut the valve"
mass = "85 g"
[job]
name = "invented"
refrigerant = "R-32"
site = { altitude = "0 m" }
target = { subcooling = "5 K", tolerance = "1 K", source = "invented" }
charge = { plate = "2 kg", step_cap = "100 g" }
"""

amount = st.builds(
    "{}{}".format,
    st.one_of(st.floats().map(repr), st.integers().map(str), st.sampled_from(["1e999", "-0", ""])),
    st.sampled_from([" K", " °F", " psig", " g", " min", " %", " Hz", "", " furlong", " x" * 50]),
)
value = st.one_of(
    amount.map('"{}"'.format),
    st.text(st.characters(exclude_characters='"\\\n\r', exclude_categories=["Cc", "Cs"])).map(
        '"{}"'.format
    ),
    st.sampled_from(
        [
            *("true", "nan", "inf", "1e999", "-1", "07:32:00", "1979-05-27T07:32:00Z", "[]", "{}"),
            *("[[]]", '["a", 1]', "[{}]", "{a.b.c = 1}", "9" * 5000, '"' + "x" * 5000 + '"'),
            *("[" * 300 + "]" * 300, '"\\u001b[2J"', '"../../../../etc/passwd"', '"\\u0000"'),
            *('"Europe/Paris"', '"%"', '"%Y-%m-%d %H:%M:%S"', '"1"', '"none"'),
        ]
    ),
)


@st.composite
def mangled(draw: st.DrawFn, text: str) -> str:
    """Return `text` with one to three lines replaced, left out, doubled or moved."""
    lines = text.splitlines()
    for _ in range(draw(st.integers(1, 3))):
        place = draw(st.integers(0, len(lines) - 1))
        kind = draw(st.sampled_from(["value", "value", "value", "drop", "double", "move", "junk"]))
        key = lines[place].partition("=")[0].strip() or "x"
        if kind == "value":
            lines[place] = f"{key} = {draw(value)}"
        elif kind == "drop":
            del lines[place]
        elif kind == "double":
            lines.insert(draw(st.integers(0, len(lines))), lines[place])
        elif kind == "move":
            lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(place))
        else:
            lines[place] = draw(st.text(max_size=20))
        if not lines:
            return ""
    return "\n".join(lines)


def refused(read: Callable[[], object]) -> str | None:
    """Return the file a refusal names, or None where it is read; nothing else may be raised."""
    try:
        read()
    except ConfigError as error:
        return str(error).partition(":")[0]
    return None


FEW = settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.parametrize("text", [CIRCUIT, PROFILES], ids=["circuit", "unit"])
@settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_any_profiles_are_read_or_refused(text: str, data: st.DataObject) -> None:
    # One profile of the file at a time, so that a draw hits where it says something.
    parts = text.split("[[profile]]")
    one = "[[profile]]" + data.draw(st.sampled_from(parts[1:]))
    text = data.draw(mangled(one))
    assert refused(lambda: parse_profiles(text, "any.toml")) in (None, "any.toml")


@pytest.mark.parametrize("name", SCENARIOS)
@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_any_scenario_is_read_or_refused(name: str, data: st.DataObject) -> None:
    text = data.draw(mangled(SCENARIOS[name]))
    assert refused(lambda: parse_scenario(text, "any.toml", Path())) in (None, "any.toml")


@FEW
@given(text=mangled(MAP))
def test_any_map_of_a_log_is_read_or_refused(text: str) -> None:
    refused(lambda: read_map(toml_of(text, "any.toml"), read_table(LOG), Path(), "log.csv"))


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 100_000,
        "a = " + "{b = " * 100_000,
        "[" + "a." * 60_000 + "a]",
        "a" + ".a" * 60_000 + " = 1",
        "a = " + "9" * 200_000,
        'a = "' + "\\u001b" * 30_000 + '"',
        "a = 1\n" * 30_000,
        "[[a]]\n" * 30_000,
        ("[" + "a." * 3900 + "a]\n") * 32,
        "# " + "x" * 250_000,
        "name = '''" + "\n" * 250_000 + "'''",
        'url = "mqtt://' + ":" * 200_000 + '"',
        'accuracy = "' + " " * 200_000 + '"',
    ],
    ids=lambda text: text[:12],
)
def test_hostile_toml_is_refused_in_no_time(text: str) -> None:
    """Deep, wide, endless; each as long as a job file may be."""
    began = time.process_time()
    for where in (parse_job, parse_profiles):
        with pytest.raises(ConfigError) as caught:
            where(text, "any.toml")
        assert len(str(caught.value)) < 2000
    source = "[[source]]\n" + text + "\n"
    with pytest.raises(ConfigError):
        parse_job(f'name = "x"\nrefrigerant = "R-32"\n{source}', "any.toml")
    assert time.process_time() - began < 20.0


def test_a_source_s_address_that_is_long_costs_no_time() -> None:
    job = (DATA / "library.toml").read_text(encoding="utf-8")
    head, _, _ = job.partition("[[source]]")
    for url in ("mqtt://" + ":" * 7000, "mqtt://" + "//@" * 2000, "a:" + "b" * 200_000):
        with pytest.raises(ConfigError, match=r"at most [48]000 characters"):
            parse_job(f'{head}\n[[source]]\nurl = "{url}"\n', "any.toml")
