"""Whatever arrives, a parser answers with readings of its channels or faults; it never raises."""

import itertools
import json
import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ProbeSpec
from chargeassist.model.units import Reference
from chargeassist_adapters.conversion import Fault, PayloadParser, Sample
from chargeassist_adapters.lines import LineSplitter
from chargeassist_adapters.payloads import make_parser

PRESSURE = Channel(
    name="p", role=Role.LIQUID_PRESSURE, unit="psig", reference=Reference.GAUGE, high_si=5e6
)
TEMPERATURE = Channel(name="t", role=Role.LIQUID_TEMPERATURE, unit="°F")


def parser_of(payload_format: str) -> PayloadParser:
    selects = {"csv": ("1", "3"), "json": ("p", "a[0].t")}.get(payload_format, ("p", "t"))
    probes = [
        ProbeSpec(channel=PRESSURE, select=selects[0], scale=0.1),
        ProbeSpec(channel=TEMPERATURE, select=selects[1], offset=-1.0),
    ]
    if payload_format == "number":
        probes = [ProbeSpec(channel=TEMPERATURE)]
    options = {"csv": {"time": "2", "delimiter": ";"}, "keyvalue": {"time": "s"}}
    options["json"] = {"time": "s"}
    return make_parser(payload_format, probes, options.get(payload_format, {}))


FORMATS = ("number", "csv", "keyvalue", "json", "senml")

number_text = st.one_of(
    st.floats().map(repr),
    st.integers().map(str),
    st.sampled_from(["NaN", "inf", "1e400", "9.9E37", "-999", "", "OL", "1e308", "35,2", "٣"]),
)
unit_text = st.sampled_from(["", " psig", "psi", " psia", " °F", " F", " C", " furlong", "\x1b[2J"])
value_text = st.builds(str.__add__, number_text, unit_text)
csv_line = st.lists(value_text, max_size=5).map(";".join)
pair = st.builds("{}{}{}".format, st.sampled_from("pts x"), st.sampled_from("=: "), value_text)
pair_line = st.lists(pair, max_size=5).map(" ".join)
leaf = st.one_of(
    st.none(), st.booleans(), st.floats(), st.integers(), st.text(max_size=5), st.just(10**400)
)
tree = st.recursive(
    leaf,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["p", "t", "a", "s"]), inner, max_size=4),
    ),
    max_leaves=12,
)
record = st.dictionaries(
    st.sampled_from(["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "s", "t"]),
    st.one_of(leaf, st.sampled_from(["p", "t", "Pa", "Cel", "K", "F", ""])),
    max_size=6,
)
pack = st.lists(record, max_size=4)

raw_input = st.one_of(
    st.binary(max_size=300),
    st.text(max_size=100).map(lambda s: s.encode("utf-8", "surrogatepass")),
    value_text.map(str.encode),
    csv_line.map(str.encode),
    pair_line.map(str.encode),
    tree.map(json.dumps).map(str.encode),
    pack.map(json.dumps).map(str.encode),
)


@pytest.mark.parametrize("payload_format", FORMATS)
@settings(max_examples=400, deadline=None, derandomize=True)
@given(raw=raw_input)
def test_any_bytes_give_readings_or_faults(payload_format: str, raw: bytes) -> None:
    for found in parser_of(payload_format).parse(raw, 12.0):
        if isinstance(found, Sample):
            assert found.channel in ("p", "t")
            assert type(found.value) is float
            assert math.isfinite(found.value)
            assert found.device_time is None or math.isfinite(found.device_time)
            if found.channel == "t":
                assert found.value > 150.0
        else:
            assert isinstance(found, Fault)
            assert found.reason
            assert found.reason.isprintable()
            assert len(found.reason) < 400


WRITERS: dict[str, Callable[[float, float], str]] = {
    "csv": lambda p, t: f"{p!r};0;{t!r}",
    "keyvalue": lambda p, t: f"s=0 p={p!r} psig t={t!r}",
    "json": lambda p, t: json.dumps({"p": p, "a": [{"t": t}], "s": 0}),
    "senml": lambda p, t: json.dumps([{"n": "p", "v": p}, {"n": "t", "v": t}]),
}


@pytest.mark.parametrize("payload_format", sorted(WRITERS))
@settings(max_examples=200, deadline=None, derandomize=True)
@given(p=st.floats(-1e6, 1e6), t=st.floats(-150.0, 1e4))
def test_every_format_says_the_same(payload_format: str, p: float, t: float) -> None:
    """psi to Pa and °F to K as in NIST SP 811 (2008), appendix B.8; scale 0.1, offset -1."""
    raw = WRITERS[payload_format](p, t).encode()
    found = [f for f in parser_of(payload_format).parse(raw, 0.0) if isinstance(f, Sample)]
    assert [f.channel for f in found] == ["p", "t"]
    assert found[0].value == pytest.approx(0.1 * p * 6894.757293, rel=1e-9, abs=1e-9)
    assert found[1].value == pytest.approx((t - 1.0 + 459.67) / 1.8, rel=1e-12)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    stream=st.lists(st.sampled_from([b"1", b"ab", b"\n", b"\r", b"\r\n", b"x" * 30]), max_size=60),
    cuts=st.lists(st.integers(0, 400), max_size=10),
)
def test_lines_do_not_depend_on_where_the_stream_is_cut(
    stream: list[bytes], cuts: list[int]
) -> None:
    whole = b"".join(stream)
    edges = [0, *sorted(min(c, len(whole)) for c in cuts), len(whole)]
    splitter = LineSplitter(whole_start=True, limit=50)
    pieces = [line for a, b in itertools.pairwise(edges) for line in splitter.feed(whole[a:b])]
    once = LineSplitter(whole_start=True, limit=50).feed(whole)
    assert pieces == once
    assert splitter.held <= 50
    expected = [line for line in whole.replace(b"\r", b"\n").split(b"\n")[:-1] if line.strip()]
    assert [p for p in pieces if isinstance(p, bytes)] == [e for e in expected if len(e) <= 50]
