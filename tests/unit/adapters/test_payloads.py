"""JSON. What is no JSON number: RFC 8259, section 6 (NaN and Infinity are not permitted)."""

from collections.abc import Callable

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist_adapters.conversion import Fault, Sample
from chargeassist_adapters.payloads import JsonParser, json_path, make_parser, too_large_or_deep

MakeProbe = Callable[..., ProbeSpec]


def test_paths(pressure: MakeProbe, temperature: MakeProbe) -> None:
    parser = JsonParser([temperature(select="line.t[1]"), pressure(select="$.line.p")], time="s")
    t, p = parser.parse(b'{"line": {"p": 248.1, "t": [1, 35.2]}, "s": 12}', 0.0)
    assert t == Sample("liquid_t", 35.2 + 273.15, device_time=12.0)
    assert isinstance(p, Sample)
    assert p.value == pytest.approx(248.1 * 6894.757, rel=1e-7)


@pytest.mark.parametrize(
    ("select", "path"),
    [
        ("p", ("p",)),
        ("a.b", ("a", "b")),
        ("[0]", (0,)),
        ("[0].v", (0, "v")),
        ("a[2][3].b", ("a", 2, 3, "b")),
        ('["a.b"].c', ("a.b", "c")),
        ("$.a", ("a",)),
        ("$[1]", (1,)),
        ("suction p", ("suction p",)),
    ],
)
def test_path_spellings(select: str, path: tuple[str | int, ...]) -> None:
    assert json_path(select, "x") == path


@pytest.mark.parametrize("select", ["", "$", ".", ".a", "a..b", "a[", "a[x]", "a[-1]", "a]", "a."])
def test_what_is_no_path(select: str) -> None:
    with pytest.raises(ConfigError, match=r"path like line.t\[0\]"):
        json_path(select, "liquid_t")


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b'{"t": NaN}', "no reading"),
        (b'{"t": -nan}', "no reading"),
        (b'{"t": Infinity}', "no reading"),
        (b'{"t": -inf}', "no reading"),
        (b'{"t": 1e400}', "no reading"),
        (b'{"t": nano}', "expected JSON"),
        (b'{"t": "NaN}', "expected JSON"),
        (b'{"t": 35.2', "expected JSON"),
        (b"", "expected JSON"),
        (b"\xff", "expected JSON"),
        (b'{"t": "35.2"}', "got a text"),
        (b'{"t": true}', "got true or false"),
        (b'{"t": null}', "no reading"),
        (b'{"t": [35.2]}', "got a list"),
        (b'{"T": 35.2}', "nothing found at 't'"),
        (b"[35.2]", "nothing found"),
        (b"35.2", "nothing found"),
        (b'{"t": 9.9e37}', "no reading"),
        (b'{"t": -999}', "absolute zero"),
        (b'{"t": 1' + b"0" * 400 + b"}", ""),
        (b'{"t": 1' + b"0" * 9000 + b"}", ""),
    ],
)
def test_faults_say_what_is_wrong(temperature: MakeProbe, raw: bytes, says: str) -> None:
    (found,) = JsonParser([temperature(select="t")]).parse(raw, 0.0)
    assert isinstance(found, Fault)
    assert says in found.reason


def test_size_and_depth_are_bounded(temperature: MakeProbe) -> None:
    parser = JsonParser([temperature(select="t")])
    for raw in (b"[" * 60_000, b'{"t": [' * 40 + b"]}" * 40, b'{"t": 1, "x": "' + b"x" * 70_000):
        (found,) = parser.parse(raw, 0.0)
        assert isinstance(found, Fault)
    assert too_large_or_deep(b"[" * 33) == "nested deeper than 32"
    # Brackets inside a text are no nesting.
    assert too_large_or_deep(b'{"a": "' + b"[" * 100 + b'\\"["}') == ""
    assert too_large_or_deep(b"[]" * 100) == ""
    assert too_large_or_deep(b'"\\\\"' + b"[" * 33) == "nested deeper than 32"
    assert too_large_or_deep(b'"\\' * 30_000 + b"[" * 40) == ""


def test_one_missing_probe_does_not_cost_the_other(
    pressure: MakeProbe, temperature: MakeProbe
) -> None:
    parser = JsonParser([temperature(select="t"), pressure(select="p")])
    t, p = parser.parse(b'{"p": 100}', 0.0)
    assert isinstance(t, Fault)
    assert isinstance(p, Sample)


@pytest.mark.parametrize("word", ["NaN", "-NaN", "nan", "Infinity", "-Infinity", "inf", "1e400"])
def test_a_number_that_is_none_does_not_cost_the_other(
    pressure: MakeProbe, temperature: MakeProbe, word: str
) -> None:
    """JSON has no NaN (RFC 8259, section 6), but programs that print a float send it."""
    parser = JsonParser([temperature(select="t"), pressure(select="p")])
    raw = f'{{"NaN": "a \\" nan, inf", "p": 100, "t": {word}, "u": [{word}]}}'.encode()
    t, p = parser.parse(raw, 0.0)
    assert isinstance(t, Fault)
    assert "no reading" in t.reason
    assert isinstance(p, Sample)


def test_junk_of_quotes_takes_no_long_time(temperature: MakeProbe) -> None:
    for raw in (b'"\\' * 32_000, b'{"nan' * 10_000, b"nan" * 20_000, b"-" * 60_000):
        (found,) = JsonParser([temperature(select="t")]).parse(raw, 0.0)
        assert isinstance(found, Fault)


def test_bad_device_time(temperature: MakeProbe) -> None:
    fault, found = JsonParser([temperature(select="t")], time="ts").parse(
        b'{"t": 35.2, "ts": "noon"}', 0.0
    )
    assert isinstance(fault, Fault)
    assert found == Sample("liquid_t", 35.2 + 273.15)


def test_formats_by_name(temperature: MakeProbe) -> None:
    probe = temperature(select="1")
    assert make_parser("csv", [probe], {"delimiter": ";"}).parse(b"35,2;1", 0.0) == (
        Sample("liquid_t", 35.2 + 273.15),
    )
    for name in ("keyvalue", "json", "senml"):
        make_parser(name, [temperature(select="t")], {})
    make_parser("number", [temperature()], {})
    with pytest.raises(ConfigError, match="expected number, csv, keyvalue, json or senml"):
        make_parser("xml", [probe], {})
    with pytest.raises(ConfigError, match="'time' has no meaning"):
        make_parser("number", [temperature()], {"time": "t"})
    for name, select in (("number", ""), ("keyvalue", "t"), ("json", "t"), ("senml", "t")):
        with pytest.raises(ConfigError, match=r"'delimiter' has no meaning.*expected format csv"):
            make_parser(name, [temperature(select=select)], {"delimiter": ";"})
