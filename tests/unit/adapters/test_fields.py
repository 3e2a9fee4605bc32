"""What is found in a line before any probe is known is what a probe can be given."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ProbeSpec
from chargeassist.session.listening import Form, Heard
from chargeassist.session.wiring.fit import roles_for
from chargeassist_adapters.conversion import Fault, Sample
from chargeassist_adapters.fields import decode
from chargeassist_adapters.payloads import make_parser

SERIAL = ("number", "csv", "keyvalue", "json")
MQTT = ("number", "json", "senml")


def heard(raw: str | bytes, formats: tuple[str, ...] = SERIAL) -> Heard:
    found = decode(raw.encode() if isinstance(raw, str) else raw, formats)
    assert isinstance(found, Heard)
    return found


@pytest.mark.parametrize(
    ("raw", "form", "fields"),
    [
        ("248.1", Form("number"), [("", 248.1, "")]),
        ("  248.1 psig ", Form("number"), [("", 248.1, "psig")]),
        ("12.500,248.1,35.20", Form("csv"), [("1", 12.5, ""), ("2", 248.1, ""), ("3", 35.2, "")]),
        ("248,1;35,20", Form("csv", (("delimiter", ";"),)), [("1", 248.1, ""), ("2", 35.2, "")]),
        ("1.5\t---", Form("csv", (("delimiter", "tab"),)), [("1", 1.5, ""), ("2", None, "")]),
        (
            "\t36.1\t7",
            Form("csv", (("delimiter", "tab"),)),
            [("1", None, ""), ("2", 36.1, ""), ("3", 7.0, "")],
        ),
        ("-   0.456 kg", Form("number"), [("", -0.456, "kg")]),
        (
            "ST,GS,-   0.456 kg",
            Form("csv"),
            [("1", None, ""), ("2", None, ""), ("3", -0.456, "kg")],
        ),
        ("12.1 13.2", Form("csv", (("delimiter", "space"),)), [("1", 12.1, ""), ("2", 13.2, "")]),
        ("unit7,12.1 °C".replace("°", ""), Form("csv"), [("1", None, ""), ("2", 12.1, "C")]),
        ("12:30:01,248.1", Form("csv"), [("1", None, ""), ("2", 248.1, "")]),
        ("p=248.1 t=35.20 C", Form("keyvalue"), [("p", 248.1, ""), ("t", 35.2, "C")]),
        ("p: 248.1, t: 35.2", Form("keyvalue"), [("p", 248.1, ""), ("t", 35.2, "")]),
        (
            '{"line": {"p": 248.1, "t": [35.2, null]}, "id": "x", "on": true, "a.b": 1}',
            Form("json"),
            [
                ("line.p", 248.1, ""),
                ("line.t[0]", 35.2, ""),
                ("line.t[1]", None, ""),
                ('["a.b"]', 1.0, ""),
            ],
        ),
        ("# 1.0,2.0", None, []),
        ("ready", None, []),
        ("9.91E37", None, []),
    ],
)
def test_a_line_of_a_port(
    raw: str, form: Form | None, fields: list[tuple[str, float | None, str]]
) -> None:
    found = heard(raw)
    assert found.form == form
    assert [(f.select, f.number, f.unit) for f in found.fields] == fields


def test_the_pack_of_rfc_8428_section_5_1_3() -> None:
    """RFC 8428, section 5.1.3, multiple measurements: names with their base, units of the base."""
    pack = (
        b'[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,'
        b'"n":"voltage","u":"V","v":120.1},'
        b'{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},'
        b'{"n":"current","t":-3,"v":1.4},{"n":"current","t":-2,"v":1.5},'
        b'{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]'
    )
    found = heard(pack, MQTT)
    assert found.form == Form("senml")
    assert [(f.select, f.number, f.unit) for f in found.fields] == [
        ("urn:dev:ow:10e2073a0108006:voltage", 120.1, "V"),
        ("urn:dev:ow:10e2073a0108006:current", 1.7, "A"),
    ]


def test_a_ratio_of_a_pack_has_a_unit_that_a_job_can_write() -> None:
    """RFC 8428, section 12.1: "/" is a ratio, "%RH" a relative humidity in percent."""
    fields = heard(b'[{"n":"a","u":"/","v":0.45},{"n":"b","u":"%RH","v":45}]', MQTT).fields
    assert [(f.number, f.unit) for f in fields] == [(0.45, "1"), (45.0, "%RH")]
    for field in fields:
        assert Role.RETURN_AIR_HUMIDITY in roles_for("x", field.number, field.unit, frozenset())


def test_a_list_without_names_is_json_and_csv_is_no_form_of_a_broker() -> None:
    assert heard("[1.5, 2.5]", MQTT).form == Form("json")
    assert [f.select for f in heard("[1.5, 2.5]", MQTT).fields] == ["[0]", "[1]"]
    assert heard("1.5,2.5", MQTT).form is None
    assert heard('[{"a": 1}]', MQTT).form == Form("json")


def test_other_bytes_are_a_fault() -> None:
    found = decode(b"\xff\x00\x81", SERIAL)
    assert isinstance(found, Fault)
    assert "wrong baud rate" in found.reason


def test_endless_lists_and_depth_are_bounded() -> None:
    assert len(heard(json.dumps([1.0] * 5000)).fields) == 200
    assert heard("[" * 1000 + "]" * 1000).form is None


numbers = st.floats(-1e30, 1e30, allow_nan=False)
trees = st.recursive(
    st.one_of(numbers, st.none(), st.booleans(), st.text(max_size=4)),
    lambda inside: st.one_of(
        st.lists(inside, max_size=3), st.dictionaries(st.text(max_size=5), inside, max_size=3)
    ),
    max_leaves=8,
)


def read_back(raw: bytes, found: Heard) -> None:
    """Each field with a number is read by the parser of a job that names it: the same number."""
    assert found.form is not None
    for field in found.fields:
        if field.number is None:
            continue
        channel = Channel(name="c", role=Role.COMPRESSOR_FREQUENCY, unit="Hz")
        probe = ProbeSpec(channel=channel, select=field.select)
        if field.unit:
            continue
        parser = make_parser(found.form.format, [probe], dict(found.form.options))
        (sample, *_) = parser.parse(raw, 0.0)
        assert isinstance(sample, Sample), sample
        assert sample.value == field.number


@given(st.one_of(st.dictionaries(st.text(max_size=5), trees, max_size=4), st.lists(trees)))
def test_every_number_of_a_json_message_can_be_read_by_a_probe(tree: object) -> None:
    raw = json.dumps(tree).encode()
    found = heard(raw, ("number", "json"))
    if found.form is not None:
        read_back(raw, found)


@given(st.binary(max_size=60))
def test_no_line_breaks_it_and_what_it_finds_can_be_read(raw: bytes) -> None:
    for formats in (SERIAL, MQTT):
        found = decode(raw, formats)
        if isinstance(found, Heard) and found.form is not None and found.form.format != "senml":
            read_back(raw, found)


@given(
    st.lists(
        st.one_of(numbers.map(str), st.sampled_from(["---", "x", "", "3 psi", "1e5", "p=4", "t:"])),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([",", ";", "\t", " "]),
)
def test_columns_and_pairs_can_be_read_by_a_probe(cells: list[str], between: str) -> None:
    raw = between.join(cells).encode()
    found = decode(raw, SERIAL)
    if isinstance(found, Heard) and found.form is not None:
        read_back(raw, found)
