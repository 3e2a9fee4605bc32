from collections.abc import Callable

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist_adapters.conversion import Fault, Sample
from chargeassist_adapters.lines import (
    MAX_LINE_BYTES,
    CsvParser,
    KeyValueParser,
    LineSplitter,
    NumberParser,
    key_values,
)

MakeProbe = Callable[..., ProbeSpec]

K = 273.15


def cut(*chunks: bytes, whole_start: bool = True) -> list[bytes | Fault]:
    splitter = LineSplitter(whole_start=whole_start)
    return [line for chunk in chunks for line in splitter.feed(chunk)]


@pytest.mark.parametrize("stream", [b"1\n2\n", b"1\r2\r", b"1\r\n2\r\n", b"1\n\n\r\n2\n3"])
def test_lines_end_in_cr_lf_or_both(stream: bytes) -> None:
    assert cut(stream) == [b"1", b"2"]
    assert cut(*(bytes([b]) for b in stream)) == [b"1", b"2"]


def test_the_first_line_is_passed_over_because_it_may_be_half_a_number() -> None:
    assert cut(b"48.1\r\n248.1\r\n", whole_start=False) == [b"248.1"]
    assert cut(b"48", b".1\n", b"248.1\n", whole_start=False) == [b"248.1"]
    # Opened between CR and LF: what follows is whole.
    assert cut(b"\n248.1\n", whole_start=False) == [b"248.1"]


def test_an_overlong_line_is_one_fault_and_passed_over_to_its_end() -> None:
    out = cut(b"1\n" + b"x" * 5000 + b"\n2\n")
    assert out[0] == b"1"
    assert out[2] == b"2"
    assert isinstance(out[1], Fault)
    assert "4096" in out[1].reason
    assert len(out) == 3


def test_a_megabyte_without_newline_is_held_in_bounded_memory() -> None:
    splitter = LineSplitter(whole_start=True)
    out = []
    for _ in range(256):
        out += splitter.feed(b"9" * 4096)
        assert splitter.held <= MAX_LINE_BYTES
    assert len(out) == 1 + 16, "told again every 64 KiB"
    assert isinstance(out[0], Fault)
    assert len(out[0].raw) <= MAX_LINE_BYTES
    assert all(isinstance(each, Fault) and "no line end" in each.reason for each in out[1:])
    assert splitter.feed(b"\n7\n") == [b"7"]


@pytest.mark.parametrize("piece", [1, 7, 4096, 5000, 100_000])
def test_a_stream_that_never_had_a_line_end_is_told(piece: int) -> None:
    splitter = LineSplitter()
    stream = b"\x00" * 140_000
    out = [f for i in range(0, len(stream), piece) for f in splitter.feed(stream[i : i + piece])]
    assert len(out) == 3, "after 4 KiB, 64 KiB and 128 KiB"
    assert all(isinstance(each, Fault) and "right baud rate" in each.reason for each in out)
    assert splitter.held == 0
    assert splitter.feed(b"\n7\n") == [b"7"]


def test_the_longest_line_allowed_passes() -> None:
    assert cut(b"5" * MAX_LINE_BYTES + b"\n") == [b"5" * MAX_LINE_BYTES]


def test_number(temperature: MakeProbe) -> None:
    parser = NumberParser([temperature()])
    (found,) = parser.parse(b" 35.2\t", 0.0)
    assert found == Sample("liquid_t", 35.2 + K)
    assert parser.parse(b"# a remark", 0.0) == ()
    assert parser.parse(b"   ", 0.0) == ()


def test_number_carries_one_probe_and_no_select(temperature: MakeProbe) -> None:
    with pytest.raises(ConfigError, match="2 probes"):
        NumberParser([temperature(), temperature(name="suction_t")])
    with pytest.raises(ConfigError, match="did you mean csv"):
        NumberParser([temperature(select="2")])


@pytest.mark.parametrize("raw", [b"\xff\xfe35.2", b"35.2\x00", b"\x1b[31m35.2"])
def test_noise_is_one_fault_that_says_what_came(temperature: MakeProbe, raw: bytes) -> None:
    (found,) = NumberParser([temperature()]).parse(raw, 0.0)
    assert isinstance(found, Fault)
    assert "text" in found.reason
    assert found.raw == raw


def test_csv_columns_count_from_one(pressure: MakeProbe, temperature: MakeProbe) -> None:
    parser = CsvParser([temperature(select="3"), pressure(select="2")], time="1")
    t, p = parser.parse(b"12.500, 248.1, 35.20", 0.0)
    assert t == Sample("liquid_t", 35.2 + K, device_time=12.5)
    assert isinstance(p, Sample)
    assert p.value == pytest.approx(248.1 * 6894.757, rel=1e-7)
    assert p.device_time == 12.5


def test_csv_a_missing_column_is_named_and_the_others_are_read(
    pressure: MakeProbe, temperature: MakeProbe
) -> None:
    parser = CsvParser([temperature(select="1"), pressure(select="4")])
    t, p = parser.parse(b"35.2,1,2", 0.0)
    assert isinstance(t, Sample)
    assert isinstance(p, Fault)
    assert p.reason == "head_p: column 4 is missing (the line has 3)"


def test_csv_quotes_and_units(pressure: MakeProbe) -> None:
    (found,) = CsvParser([pressure(select="2")]).parse(b'"a,b","248.1 psig",3', 0.0)
    assert isinstance(found, Sample)


@pytest.mark.parametrize(
    ("delimiter", "line"),
    [(";", b"1;35,2"), (";", b"1;35.2"), ("tab", b"1\t35.2"), ("space", b"1   35.2")],
)
def test_csv_delimiters_and_decimal_comma(
    temperature: MakeProbe, delimiter: str, line: bytes
) -> None:
    (found,) = CsvParser([temperature(select="2")], delimiter).parse(line, 0.0)
    assert found == Sample("liquid_t", 35.2 + K)


def test_csv_a_decimal_comma_with_comma_columns_is_not_half_read(temperature: MakeProbe) -> None:
    (found,) = CsvParser([temperature(select="1")], "tab").parse(b"35,2\t1", 0.0)
    assert isinstance(found, Fault)


def test_csv_an_empty_first_column_between_tabs_moves_no_other(
    pressure: MakeProbe, temperature: MakeProbe
) -> None:
    """A probe without a reading leaves its column empty: the next one is not taken for it."""
    probes = [temperature(select="1"), temperature(select="2", name="second_t")]
    first, second = CsvParser(probes, "tab").parse(b"\t36.1\t", 0.0)
    assert isinstance(first, Fault)
    assert "no reading" in first.reason
    assert second == Sample("second_t", 36.1 + K)
    (third,) = CsvParser([pressure(select="3")], "tab").parse(b"\t36.1\t", 0.0)
    assert isinstance(third, Fault)
    assert "no reading" in third.reason
    assert CsvParser([temperature(select="1")], "tab").parse(b"\t# ready\t", 0.0) == ()


def test_csv_the_device_time_has_the_decimal_comma_of_its_line(temperature: MakeProbe) -> None:
    (found,) = CsvParser([temperature(select="2")], ";", time="1").parse(b"12,5;35,2", 0.0)
    assert found == Sample("liquid_t", 35.2 + K, device_time=12.5)


@pytest.mark.parametrize("sign", [b"\xc2\xb0", b"\xb0", b" \xc2\xb0", b" \xb0 "])
def test_a_degree_sign_is_no_wrong_baud_rate(temperature: MakeProbe, sign: bytes) -> None:
    """In UTF-8 and in Latin-1 (ISO 8859-1), as thermometers print it."""
    expected = (Sample("liquid_t", 35.2 + K),)
    assert NumberParser([temperature()]).parse(b"35.2" + sign + b"C", 0.0) == expected
    line = b"1,35.2" + sign + b"C,7"
    assert CsvParser([temperature(select="2")]).parse(line, 0.0) == expected
    (other,) = NumberParser([temperature()]).parse(b"35.2" + sign + b"F", 0.0)
    assert isinstance(other, Fault)
    assert "wrong unit" in other.reason
    (bare,) = NumberParser([temperature()]).parse(b"35.2\xb0", 0.0)
    assert isinstance(bare, Fault)


@pytest.mark.parametrize(
    "raw",
    [
        "35.2 ℃".encode(),  # U+2103
        b"35.2\xa1\xe6",  # the same in GB 2312
        "35.2 ºC".encode(),  # the ordinal sign, as some keyboards have it
        b"35.2 \xbaC",
    ],
)
def test_other_signs_for_degrees(temperature: MakeProbe, raw: bytes) -> None:
    assert NumberParser([temperature()]).parse(raw, 0.0) == (Sample("liquid_t", 35.2 + K),)
    (other,) = NumberParser([temperature()]).parse("35.2 ℉".encode(), 0.0)
    assert isinstance(other, Fault)
    assert "wrong unit" in other.reason


@pytest.mark.parametrize("micro", [b"\xc2\xb5", b"\xce\xbc", b"\xb5"])
def test_a_micrometre_of_mercury_may_have_its_sign(micro: bytes) -> None:
    probe = ProbeSpec(channel=Channel(name="vacuum", role=Role.VACUUM, unit="micron"))
    (found,) = NumberParser([probe]).parse(b"487 " + micro + b"mHg", 0.0)
    assert isinstance(found, Sample)
    assert found.value == pytest.approx(487 * 101.325 / 760)  # one micron is one millitorr


@pytest.mark.parametrize(
    ("line", "kg"),
    [
        # Laboratory scales put blanks between sign and number: Sartorius LE2202S manual, "Output
        # Format with 16 Characters", EB series "with 22 Characters": IIIIII+*DDDDDDDD*UUU.
        (b"N     -    0.456 kg", -0.456),
        (b"N     +    0.456 kg", 0.456),
        (b"N          0.456 kg", 0.456),
        (b"N     -     .456 kg", -0.456),
    ],
)
def test_a_sign_that_stands_apart_belongs_to_its_number(line: bytes, kg: float) -> None:
    """Else what was taken out of a cylinder would read as if it were still in it."""
    probe = ProbeSpec(channel=Channel(name="mass", role=Role.CYLINDER_MASS, unit="kg"), select="2")
    assert CsvParser([probe], "space").parse(line, 0.0) == (Sample("mass", kg),)


def test_csv_a_bad_device_time_is_told_and_the_reading_kept(temperature: MakeProbe) -> None:
    fault, found = CsvParser([temperature(select="2")], time="1").parse(b"noon,35.2", 0.0)
    assert isinstance(fault, Fault)
    assert "device time" in fault.reason
    assert found == Sample("liquid_t", 35.2 + K)


@pytest.mark.parametrize("select", ["", "0", "-1", "p", "1.5", "²", "99999999999999999999"])
def test_csv_select_is_a_column(temperature: MakeProbe, select: str) -> None:
    with pytest.raises(ConfigError, match="column counted from 1"):
        CsvParser([temperature(select=select)])


def test_csv_unknown_delimiter(temperature: MakeProbe) -> None:
    with pytest.raises(ConfigError, match="delimiter"):
        CsvParser([temperature(select="1")], "|")


@pytest.mark.parametrize(
    "line",
    [
        "p=248.1 t=35.20",
        "p=248.1,t=35.20",
        "p: 248.1; t: 35.20",
        "p = 248.1 psig  t = 35.20 C",
        "id=7 t=35.20 p=248.1psi",
        "12:30:59 t=35.2 p=248.1",
        "p=248.1\tt=35.2\t",
    ],
)
def test_key_value_spellings(pressure: MakeProbe, temperature: MakeProbe, line: str) -> None:
    parser = KeyValueParser([pressure(select="p"), temperature(select="t")])
    p, t = parser.parse(line.encode(), 0.0)
    assert isinstance(p, Sample)
    assert p.value == pytest.approx(248.1 * 6894.757, rel=1e-7)
    assert t == Sample("liquid_t", 35.2 + K)


def test_key_value_faults_name_the_key(pressure: MakeProbe, temperature: MakeProbe) -> None:
    parser = KeyValueParser([pressure(select="p"), temperature(select="t")])
    p, t = parser.parse(b"P=248.1 t=1 t=2", 0.0)
    assert isinstance(p, Fault)
    assert p.reason == "head_p: key 'p' is missing (keys: P, t)"
    assert isinstance(t, Fault)
    assert "2 times" in t.reason


def test_key_value_reads_no_half_of_a_decimal_comma(temperature: MakeProbe) -> None:
    (found,) = KeyValueParser([temperature(select="t")]).parse(b"t=35,2", 0.0)
    assert isinstance(found, Fault)


def test_key_value_device_time(temperature: MakeProbe) -> None:
    (found,) = KeyValueParser([temperature(select="t")], time="ms").parse(b"ms=12.5 t=35.2", 0.0)
    assert found == Sample("liquid_t", 35.2 + K, device_time=12.5)


def test_key_value_without_any_pair(temperature: MakeProbe) -> None:
    (found,) = KeyValueParser([temperature(select="t")]).parse(b"hello", 0.0)
    assert isinstance(found, Fault)
    assert "keys: none" in found.reason
    assert key_values("a=b=c") == {"a": [""], "b": ["c"]}


@pytest.mark.parametrize("select", ["", "a b", "a=b", "a,b"])
def test_key_value_select_is_a_key(temperature: MakeProbe, select: str) -> None:
    with pytest.raises(ConfigError, match="needs select = a key"):
        KeyValueParser([temperature(select=select)])
