"""`job new` asks for all a job file can hold: every key the readers look for."""

import re
from collections.abc import Iterator

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job import toml_table
from chargeassist.session.job.jobfile import read_job
from chargeassist.session.job.limits import DRYNESS_LIMITS, TIGHTNESS_LIMITS, JobLimits
from chargeassist.session.job.more_questions import more_questions
from chargeassist.session.job.overrides import groups
from chargeassist.session.job.performance import TOLERANCES
from chargeassist.session.job.questions import next_question
from chargeassist.session.job.toml_table import TomlTable, toml_of

FULL = """
name = "invented"
refrigerant = "R-32"
by_hand = true
[site]
altitude = "210 m"
[target]
method = "superheat"
superheat = "8 K"
return_wet_bulb = "18 °C"
return_wet_bulb_source = "psychrometer"
tolerance = "0.8 K"
source = "label"
approach = "5 K"
subcooling_high = "12 K"
[charge]
plate = "2.3 kg"
step_cap = "110 g"
limit = "2.9 kg"
limit_source = "room"
[frequency]
required = "72 Hz"
[line_set]
length = "12 m"
adder = "50 g/m"
adder_source = "sheet 4"
[performance]
source = "data"
outdoor = "85 °F"
return_air = "80 °F"
liquid_pressure = "2.3 MPa(g)"
suction_pressure = "0.9 MPa(g)"
discharge_temperature = "80 °C"
air_split = "10 K"
[air]
heat = "9.6 kW"
heat_source = "plate"
[tightness]
[dryness]
[electrical]
[crew]
[cylinder]
[plate]
[equipment]
[conditions]
[limits]
[processing]
"""
PROBES = """
name = "invented"
refrigerant = "R-32"
[site]
altitude = "210 m"
[target]
subcooling = "5 K"
tolerance = "0.8 K"
source = "label"
[charge]
plate = "2.3 kg"
step_cap = "110 g"
[[source]]
url = "serial:/dev/ttyUSB0"
[[source.probe]]
role = "liquid_pressure"
unit = "psig"
"""

NOT_ASKED = {
    "by_hand",  # the first place where probes are read answers it
    "source.name",  # numbered by itself
    "overrides.authority",  # the comment beside it: rule of thumb
    *(f"overrides.{key.value}" for key in LimitKey),  # chosen by group; see the test below
    "source.options",  # what an adapter of somebody else's may want
}


@pytest.fixture
def looked_for(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Return the keys the readers ask a job file for, filled as it is read."""
    found: set[str] = set()
    get = toml_table.TomlTable.get

    def noted(self: TomlTable, key: str) -> object:
        if self.file == "job.toml":
            found.add(re.sub(r"\[\d+\]", "", f"{self.name}.{key}").lstrip("."))
        return get(self, key)

    monkeypatch.setattr(toml_table.TomlTable, "get", noted)
    return found


def asked(**given: str) -> Iterator[str]:
    """Yield every key that is asked for when each question is answered."""
    answers: dict[str, str] = {}
    while (question := next_question(answers)) is not None:
        key = question.key
        answer = given.get(key.replace(".", "__"), question.example)
        if question.choices and key not in {k.replace("__", ".") for k in given}:
            answer = question.choices[-1] if key == "more" else question.choices[0]
        if key.endswith(".adapter") and not key.startswith("source.1"):
            answer = ""
        if key.endswith(".unit") and Role.LIQUID_PRESSURE.value not in key:
            answer = ""
        answers[key] = answer
        yield key


def test_every_key_a_reader_looks_for_is_asked_for(looked_for: set[str]) -> None:
    for text in (FULL, PROBES):
        read_job(toml_of(text, "job.toml"))
    questions: set[str] = set()
    for adapter in ("mqtt", "modbus"):
        for more in (
            {"target__method": "superheat", "site__altitude": ""},
            {"target__method": "superheat", "target__superheat": "table"},
            {"target__method": "subcooling"},
            {"target__method": "subcooling", "charge__weighed_in": "", "begins": "dryness"},
            {"target__method": "subcooling", "change": "y", "overrides__2__group": ""},
        ):
            found = asked(
                source__1__adapter=adapter, source__1__format="csv", frequency__required="72 Hz",
                **more,
            )  # fmt: skip
            questions |= {
                "source.probe." + key.split(".")[3]
                if key.count(".") == 3
                else key.replace("source.1.", "source.")
                for key in found
            }
    tables = {key.rpartition(".")[0] for key in looked_for}
    missing = looked_for - questions - tables - NOT_ASKED
    assert len(looked_for) > 120
    assert missing == {"source.probe.role"}, sorted(missing)  # it is what is asked about


def test_a_default_that_is_offered_is_the_one_that_counts() -> None:
    """A blank answer takes what the question says; where nothing is usual, it says "none"."""
    answers = {f"performance.{name}": "given" for name in ("outdoor", *TOLERANCES)}
    offered = {q.key: q.ask for q in more_questions(answers, JobLimits("", ()))}
    limits = {f"tightness.{name}": key for name, key in TIGHTNESS_LIMITS.items()}
    limits |= {f"dryness.{name}": key for name, key in DRYNESS_LIMITS.items()}
    limits |= {f"performance.{name}_tolerance": key for name, key in TOLERANCES.items()}
    told = {key: limit for key, limit in limits.items() if "; Enter: " in offered.get(key, "")}
    assert len(told) >= 14
    for key, limit in told.items():
        usual = USUAL.get(limit)
        assert offered[key].endswith(f"else {'none' if usual is None else usual.as_written}"), key


def test_every_limit_can_be_chosen_in_its_group() -> None:
    found = groups()
    assert sorted(key for keys in found.values() for key in keys) == sorted(LimitKey)
    # None is so long that nobody reads it to its end, none is for what fits nowhere.
    assert all(1 <= len(keys) <= 30 for keys in found.values()), {
        k: len(v) for k, v in found.items()
    }
