"""SenML against RFC 8428.

The packs of the first three tests are the examples of sections 5.1.1, 5.1.2 and 5.1.3 of the RFC
(names, numbers and units as printed there, from memory of the text); the rules on time are section
4.5.3, on names and base fields 4.1 and 4.5, on versions 4.4. Unit symbols: IANA registry of SenML
units (RFC 8428, section 12.1) and RFC 8798 (secondary units) for hPa and mA.
"""

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist.model.units import Reference
from chargeassist_adapters.conversion import Fault, Sample
from chargeassist_adapters.senml import PackError, SenmlParser, resolve


def probe(role: Role, unit: str, select: str, max_age_s: float = 10.0) -> ProbeSpec:
    reference = Reference.GAUGE if "pressure" in role.value else None
    channel = Channel(
        name=role.value, role=role, unit=unit, reference=reference, max_age_s=max_age_s
    )
    return ProbeSpec(channel=channel, select=select)


def test_single_datapoint_5_1_1() -> None:
    pack = b'[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]'
    parser = SenmlParser([probe(Role.RETURN_AIR_TEMPERATURE, "°F", "urn:dev:ow:10e2073a01080063")])
    assert parser.parse(pack, 100.0) == (Sample("return_air_temperature", 23.1 + 273.15),)


def test_base_name_is_put_before_each_name_5_1_2() -> None:
    pack = (
        b'[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},'
        b'{"n":"current","u":"A","v":1.2}]'
    )
    names = [r.name for r in resolve(pack)]
    assert names == ["urn:dev:ow:10e2073a01080063:voltage", "urn:dev:ow:10e2073a01080063:current"]
    parser = SenmlParser([probe(Role.COMPRESSOR_CURRENT, "A", names[1])])
    assert parser.parse(pack, 0.0) == (Sample("compressor_current", 1.2),)


def test_base_time_and_relative_steps_5_1_3() -> None:
    pack = (
        b'[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,'
        b'"n":"voltage","u":"V","v":120.1},{"n":"current","t":-5,"v":1.2},'
        b'{"n":"current","t":-4,"v":1.3},{"n":"current","v":1.7}]'
    )
    parser = SenmlParser(
        [probe(Role.COMPRESSOR_CURRENT, "A", "urn:dev:ow:10e2073a0108006:current")]
    )
    found = parser.parse(pack, 50.0)
    assert [f.value for f in found if isinstance(f, Sample)] == [1.2, 1.3, 1.7]
    assert [f.device_time for f in found if isinstance(f, Sample)] == [
        1276020071.001,
        1276020072.001,
        1276020076.001,
    ]
    assert all(isinstance(f, Sample) and f.quality is Quality.GOOD for f in found)


def test_times_below_2_to_the_28_count_from_arrival() -> None:
    parser = SenmlParser([probe(Role.COMPRESSOR_CURRENT, "A", "i", max_age_s=10.0)])
    pack = (
        b'[{"n":"i","v":1,"t":-3},{"n":"i","v":2,"t":-11},{"n":"i","v":3},'
        b'{"n":"i","v":4,"t":268435456}]'
    )
    fresh, stale, now, absolute = (f for f in parser.parse(pack, 100.0) if isinstance(f, Sample))
    assert (fresh.device_time, fresh.quality) == (97.0, Quality.GOOD)
    assert (stale.device_time, stale.quality) == (89.0, Quality.RETAINED)
    assert (now.device_time, now.quality) == (None, Quality.GOOD)
    assert absolute.device_time == 268435456.0


def test_what_lies_far_behind_the_newest_of_its_pack_is_not_live() -> None:
    """A gateway that kept a minute of readings tells them at once, here the newest first."""
    pack = (
        b'[{"bn":"x","u":"A","bt":1.7e9,"v":6.1},{"t":-4,"v":6.2},{"t":-30,"v":6.3},'
        b'{"bt":-2,"v":6.4}]'
    )
    found = SenmlParser([probe(Role.COMPRESSOR_CURRENT, "A", "x")]).parse(pack, 100.0)
    assert [each.quality for each in found if isinstance(each, Sample)] == [
        Quality.GOOD,
        Quality.GOOD,
        Quality.RETAINED,
        Quality.GOOD,
    ]


def test_a_time_that_overflows_is_no_time() -> None:
    parser = SenmlParser([probe(Role.COMPRESSOR_CURRENT, "A", "i")])
    (found,) = parser.parse(b'[{"n":"i","bt":1.7e308,"t":1.7e308,"v":1}]', 0.0)
    assert found == Sample("compressor_current", 1.0)


def test_base_value_and_base_sum_are_added() -> None:
    pack = b'[{"bn":"d/","bv":20,"bs":100,"n":"a","v":0.5},{"n":"b","s":3},{"n":"c","v":1,"s":1}]'
    a, b, c = resolve(pack)
    assert (a.value, a.total) == (20.5, 100.0)
    assert (b.value, b.total) == (None, 103.0)
    assert (c.value, c.total) == (21.0, 101.0)


def test_a_base_value_alone_is_the_value_and_a_text_is_none() -> None:
    base, text = resolve(b'[{"n":"a","bv":20},{"n":"b","vs":"open"}]')
    assert base.value == 20.0
    assert text.value is None


@pytest.mark.parametrize(
    ("role", "unit", "sent", "number", "si"),
    [
        (Role.LIQUID_TEMPERATURE, "°F", "Cel", 35.2, 308.35),
        (Role.LIQUID_TEMPERATURE, "°C", "K", 308.35, 308.35),
        (Role.LIQUID_TEMPERATURE, "°C", None, 35.2, 308.35),
        (Role.LIQUID_PRESSURE, "psig", "Pa", 1.7e6, 1.7e6),
        (Role.LIQUID_PRESSURE, "psig", "hPa", 17000, 1.7e6),
        (Role.LIQUID_PRESSURE, "psig", "psig", 100, 689475.729),
        (Role.COMPRESSOR_CURRENT, "A", "mA", 6400, 6.4),
        (Role.COMPRESSOR_FREQUENCY, "Hz", "Hz", 72, 72.0),
        (Role.RETURN_AIR_HUMIDITY, "%", "%RH", 45, 0.45),
        (Role.RETURN_AIR_HUMIDITY, "1", "%RH", 45, 0.45),
        (Role.RETURN_AIR_HUMIDITY, "%", "/", 0.45, 0.45),
        (Role.CYLINDER_MASS, "oz", "kg", 2.3, 2.3),
        (Role.CYLINDER_MASS, "oz", "g", 2300, 2.3),
    ],
)
def test_the_unit_of_the_record_is_converted(
    role: Role, unit: str, sent: str | None, number: float, si: float
) -> None:
    said = f'"u":"{sent}",' if sent else ""
    (found,) = SenmlParser([probe(role, unit, "x")]).parse(
        f'[{{"n":"x",{said}"v":{number}}}]'.encode(), 0.0
    )
    assert isinstance(found, Sample)
    assert found.value == pytest.approx(si, rel=1e-8)


@pytest.mark.parametrize(
    ("role", "unit", "sent"),
    [
        (Role.LIQUID_TEMPERATURE, "°C", "Pa"),
        (Role.LIQUID_TEMPERATURE, "°C", "C"),
        (Role.LIQUID_TEMPERATURE, "°F", "F"),
        (Role.LIQUID_PRESSURE, "psig", "psia"),
        (Role.LIQUID_PRESSURE, "psig", "bar"),
        (Role.CYLINDER_MASS, "kg", "lb"),
        (Role.CYLINDER_MASS, "kg", "/"),
        (Role.COMPRESSOR_CURRENT, "A", "\u202eA"),
    ],
)
def test_a_wrong_unit_is_a_fault(role: Role, unit: str, sent: str) -> None:
    (found,) = SenmlParser([probe(role, unit, "x")]).parse(
        f'[{{"n":"x","u":"{sent}","v":1}}]'.encode(), 0.0
    )
    assert isinstance(found, Fault)
    assert "wrong unit" in found.reason
    assert "\u202e" not in found.reason


@pytest.mark.parametrize(
    ("pack", "says"),
    [
        (b'{"n":"x","v":1}', "expected a SenML pack"),
        (b'[{"n":"x","v":"1"}]', "expected a SenML pack"),
        (b'[{"n":"x","v":true}]', "expected a SenML pack"),
        (b'[{"n":"x","v":NaN}]', "expected a SenML pack"),
        (b'[{"n":"x","v":1e400}]', "expected a SenML pack"),
        (b'[{"n":"x","v":1', "expected a SenML pack"),
        (b'[{"n":"x","v":1,"hot_":1}]', "must be understood"),
        (b'[{"bver":11,"n":"x","v":1}]', "version"),
        (b'[{"bver":0,"n":"x","v":1}]', "version"),
        (b'[{"n":"y","v":1}]', "expected the name x"),
        (b"[]", "names: none"),
        (b'[{"n":"x","s":4}]', "a sum"),
        (b'[{"n":"x","vs":"open"}]', "a text"),
        (b'[{"n":"x","vb":true}]', "a text, a boolean"),
        (b'[{"n":"x","v":9.9e37}]', "no reading"),
        (b'[{"n":"x","v":1' + b"0" * 400 + b"}]", ""),
        (b'[{"n":"x","v":1' + b"0" * 9000 + b"}]", ""),
        (b'[{"n":"x","bv":1.7e308,"v":1.7e308}]', "no reading"),
        (b"[" * 5000, "expected a SenML pack"),
        (b"[" + b"{}," * 1000 + b"{}]", "1001 records"),
        (b" " * 70_000, "70000 bytes"),
    ],
)
def test_faults(pack: bytes, says: str) -> None:
    (found,) = SenmlParser([probe(Role.COMPRESSOR_CURRENT, "A", "x")]).parse(pack, 0.0)
    assert isinstance(found, Fault)
    assert says in found.reason


def test_secondary_units_version_is_understood() -> None:
    """RFC 9100: version 26 is version 10 with feature 4 (from memory)."""
    assert [r.value for r in resolve(b'[{"bver":26,"n":"x","v":1}]')] == [1.0]
    with pytest.raises(PackError):
        list(resolve(b'[{"bver":42,"n":"x","v":1}]'))


def test_optional_unknown_fields_are_passed_over() -> None:
    assert [r.value for r in resolve(b'[{"n":"x","v":1,"hot":1}]')] == [1.0]


def test_select_is_needed() -> None:
    with pytest.raises(ConfigError, match="full name"):
        SenmlParser([probe(Role.COMPRESSOR_CURRENT, "A", "")])
