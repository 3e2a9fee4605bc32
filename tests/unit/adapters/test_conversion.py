"""Numbers to SI.

Factors: NIST Special Publication 811 (2008), appendix B.8: 1 psi = 6.894 757 E+03 Pa; degree
Fahrenheit to kelvin (t + 459.67)/1.8; inch of mercury (conventional) 3.386 389 E+03 Pa.
SCPI's 9.9E37 and 9.91E37: SCPI-1999 volume 1 (from memory).
"""

from collections.abc import Callable

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist.model.units import Quantity, Reference, find_unit
from chargeassist_adapters.conversion import Fault, Found, ProbeValue, Sample, time_from_text

MakeProbe = Callable[..., ProbeSpec]


def read(probe: ProbeSpec, text: str, *, decimal_comma: bool = False) -> Found:
    return ProbeValue(probe).from_text(text, text.encode(), decimal_comma=decimal_comma)


def test_a_pressure_becomes_pascal(pressure: MakeProbe) -> None:
    found = read(pressure(), "248.1")
    assert isinstance(found, Sample)
    assert found.channel == "head_p"
    assert found.value == pytest.approx(248.1 * 6894.757, rel=1e-7)
    assert found.quality is Quality.GOOD
    assert found.device_time is None


def test_fahrenheit_becomes_kelvin(temperature: MakeProbe) -> None:
    found = read(temperature("°F"), "95.0")
    assert isinstance(found, Sample)
    assert found.value == pytest.approx((95.0 + 459.67) / 1.8, abs=1e-9)


def test_scale_and_offset_come_before_the_unit(temperature: MakeProbe) -> None:
    """A raw count of 0.1 °F with a zero shift of 2 °F; were the order reversed it would be 97 K."""
    probe = temperature("°F")
    probe = type(probe)(channel=probe.channel, scale=0.1, offset=-2.0)
    found = read(probe, "970")
    assert isinstance(found, Sample)
    assert found.value == pytest.approx((95.0 + 459.67) / 1.8, abs=1e-9)


@pytest.mark.parametrize("text", ["248.1", " 248.1 ", "+248.1", "2.481e2", "2481E-1", "248.1\t"])
def test_spellings_of_one_number(pressure: MakeProbe, text: str) -> None:
    found = read(pressure(), text)
    assert isinstance(found, Sample)
    assert found.value == pytest.approx(248.1 * 6894.757, rel=1e-7)


@pytest.mark.parametrize(
    "text",
    [
        "NaN",
        "inf",
        "-INF",
        "",
        "   ",
        "OL",
        "---",
        "null",
        "Err",
        "1e400",
        "9.9E37",
        "-9.9E+37",
        "9.91E37",
        "+999999E+19",
        "1e308",
    ],
)
def test_what_a_device_sends_for_no_reading(pressure: MakeProbe, text: str) -> None:
    found = read(pressure(), text)
    assert isinstance(found, Fault)
    assert "no reading" in found.reason
    assert found.reason.startswith("head_p: ")


@pytest.mark.parametrize(
    "text", ["abc", "0x1F", "1_000", "12e", "1.2.3", "35,2", "1 234.5", "٣٥", "²", "--5", "5-"]
)
def test_what_is_no_number(pressure: MakeProbe, text: str) -> None:
    assert isinstance(read(pressure(), text), Fault)


@pytest.mark.parametrize(
    ("text", "psi"), [("+   12.345", 12.345), ("-  0.5 psig", -0.5), ("- .5", -0.5)]
)
def test_scales_pad_between_sign_and_number(pressure: MakeProbe, text: str, psi: float) -> None:
    found = read(pressure(), text)
    assert isinstance(found, Sample)
    assert found.value == pytest.approx(psi * 6894.757, rel=1e-7)
    assert isinstance(read(pressure(), "-"), Fault)
    assert isinstance(read(pressure(), "- -5"), Fault)


def test_a_unit_that_agrees_is_accepted(pressure: MakeProbe) -> None:
    for text in ("248.1 psig", "248.1psig", "248.1 psi", "248.1 PSIG", "248.1 psi(g)"):
        found = read(pressure(), text)
        assert isinstance(found, Sample), text
        assert found.value == pytest.approx(248.1 * 6894.757, rel=1e-7)


@pytest.mark.parametrize("text", ["45.2 %", "45.2 %RH", "45.2% RH", "45.2 %rh"])
def test_a_humidity_is_sent_in_percent_or_in_percent_of_relative_humidity(text: str) -> None:
    channel = Channel(name="rh", role=Role.RETURN_AIR_HUMIDITY, unit="%")
    found = read(ProbeSpec(channel=channel), text)
    assert isinstance(found, Sample), found
    assert found.value == pytest.approx(0.452)


@pytest.mark.parametrize(
    "text", ["248.1 psia", "248.1 kPa", "248.1 bar", "24.8 °C", "248.1 furlong"]
)
def test_a_unit_that_differs_is_refused_with_both_named(pressure: MakeProbe, text: str) -> None:
    found = read(pressure(), text)
    assert isinstance(found, Fault)
    assert "wrong unit: expected psig" in found.reason


def test_escape_codes_do_not_reach_a_reason(pressure: MakeProbe) -> None:
    for text in ("\x1b[2J\x1b[31mboo", "5 \x1b]0;boo\x07"):
        found = read(pressure(), text)
        assert isinstance(found, Fault)
        assert "\x1b" not in found.reason


def test_decimal_comma_only_where_asked(temperature: MakeProbe) -> None:
    assert isinstance(read(temperature(), "35,2"), Fault)
    found = read(temperature(), "35,2", decimal_comma=True)
    assert isinstance(found, Sample)
    assert found.value == pytest.approx(308.35)
    assert isinstance(read(temperature(), "1.035,2", decimal_comma=True), Fault)


def test_outside_the_declared_range_is_kept_and_marked(pressure: MakeProbe) -> None:
    probe = pressure(low_si=0.0, high_si=4.0e6)
    inside, below, above = (read(probe, text) for text in ("500", "-1", "600"))
    assert isinstance(inside, Sample)
    assert isinstance(below, Sample)
    assert isinstance(above, Sample)
    assert inside.quality is Quality.GOOD
    assert below.quality is Quality.RANGE
    assert above.quality is Quality.RANGE
    assert above.value == pytest.approx(600 * 6894.757, rel=1e-7)


def test_a_temperature_below_absolute_zero_is_no_reading(temperature: MakeProbe) -> None:
    for text in ("-999", "-273.15"):
        found = read(temperature(), text)
        assert isinstance(found, Fault)
        assert "absolute zero" in found.reason
    found = read(temperature(), "-127.00")
    assert isinstance(found, Fault)
    assert "no sensor?" in found.reason
    assert isinstance(read(temperature(), "-90"), Sample)


def test_a_number_in_another_unit(temperature: MakeProbe) -> None:
    found = ProbeValue(temperature("°F")).from_number(
        35.2, b"", unit=find_unit("Cel", Quantity.TEMPERATURE)
    )
    assert isinstance(found, Sample)
    assert found.value == pytest.approx(308.35)


def test_scale_and_offset_are_of_the_declared_unit_whatever_the_sent_one(
    pressure: MakeProbe,
) -> None:
    """A probe that reads 2 psi low is put right by 2 psi, also where its message says pascal."""
    probe = ProbeValue(pressure(offset=2.0))
    found = probe.from_number(1_000_000.0, b"", unit=find_unit("Pa", Quantity.PRESSURE))
    assert isinstance(found, Sample)
    assert found.value == pytest.approx(1_000_000.0 + 2.0 * 6894.757, rel=1e-9)
    as_sent = ProbeValue(pressure()).from_number(
        1_711_000.0, b"", unit=find_unit("Pa", Quantity.PRESSURE)
    )
    assert isinstance(as_sent, Sample)
    assert as_sent.value == 1_711_000.0, "to the last digit"


def test_a_decimal_comma_says_how_it_is_read(temperature: MakeProbe) -> None:
    found = read(temperature(), "35,2")
    assert isinstance(found, Fault)
    assert "delimiter ';' reads a decimal comma" in found.reason
    other = read(temperature(), "35 2")
    assert isinstance(other, Fault)
    assert "comma" not in other.reason


def test_overflow_in_the_conversion_is_a_fault(pressure: MakeProbe) -> None:
    assert isinstance(read(pressure(scale=1e300), "1e30"), Fault)


def test_unknown_unit_names_the_probe_and_the_known_ones(pressure: MakeProbe) -> None:
    with pytest.raises(ConfigError, match=r"head_p.*furlong.*psig"):
        ProbeValue(pressure("furlong"))


def test_a_pressure_says_gauge_or_absolute(pressure: MakeProbe) -> None:
    with pytest.raises(ConfigError, match="gauge or absolute; write psig or psia"):
        ProbeValue(pressure("psi", reference=None))
    with pytest.raises(ConfigError, match="absolute, but the channel is declared gauge"):
        ProbeValue(pressure("psia", reference=Reference.GAUGE))
    assert ProbeValue(pressure("psi", reference=Reference.GAUGE)).unit.scale > 6894


@pytest.mark.parametrize(
    ("scale", "offset"), [(0.0, 0.0), (float("nan"), 0.0), (1.0, float("inf"))]
)
def test_unusable_scale_or_offset(pressure: MakeProbe, scale: float, offset: float) -> None:
    with pytest.raises(ConfigError, match="finite scale"):
        ProbeValue(pressure(scale=scale, offset=offset))


def test_device_time_is_a_plain_number() -> None:
    assert time_from_text(" 12.5 ") == 12.5
    for text in ("", "12:30", "nan", "1e400", "12 s"):
        assert time_from_text(text) is None
