"""The instruments of the stages: each read from a job file by every wire that carries it.

Factors: NIST SP 811 (2008), appendix B.8: psi, pound, ounce, torr (one micron is one millitorr).
"""

from collections.abc import Sequence

import pytest

from chargeassist.model.channels import Quality
from chargeassist.model.job import ProbeSpec
from chargeassist.session.job.probes import read_probes
from chargeassist.session.job.toml_table import TomlTable
from chargeassist_adapters.conversion import Found, ProbeValue, Sample
from chargeassist_adapters.modbus_registers import RegisterProbe, blocks_of, read_select
from chargeassist_adapters.payloads import make_parser

PSI = 6894.757293168361
POUND = 0.45359237
MICRON = 101.325 / 760.0

# role, unit, what is sent, in SI: a vacuum gauge, nitrogen, a scale in four units, volts.
INSTRUMENTS = [
    ("vacuum", "micron", 487.0, 487.0 * MICRON),
    ("vacuum", "mbar", 0.5, 50.0),
    ("liquid_pressure", "psig", 348.0, 348.0 * PSI),
    ("suction_pressure", "kPag", 2400.0, 2.4e6),
    ("cylinder_mass", "lb", 25.5, 25.5 * POUND),
    ("cylinder_mass", "oz", 408.0, 25.5 * POUND),
    ("cylinder_mass", "kg", 11.5, 11.5),
    ("cylinder_mass", "g", 11500.0, 11.5),
    ("voltage_ab", "V", 231.0, 231.0),
    ("voltage_ca", "V", 397.0, 397.0),
]
each_instrument = pytest.mark.parametrize(("role", "unit", "sent", "value_si"), INSTRUMENTS)


def probe(role: str, unit: str, select: str, scale: float = 1.0) -> ProbeSpec:
    """Return the probe as a job file describes it."""
    table = {"role": role, "unit": unit, "select": select, "scale": scale}
    (found,) = read_probes([TomlTable("job.toml", "source.probe", table)], "rig")
    return found


def one(found: Sequence[Found], role: str, value_si: float) -> None:
    (sample,) = found
    assert isinstance(sample, Sample)
    assert sample.channel == role
    assert sample.quality is Quality.GOOD
    assert sample.value == pytest.approx(value_si, rel=1e-9)


@each_instrument
@pytest.mark.parametrize(
    ("payload_format", "select", "raw"),
    [
        ("number", "", "{0}"),
        ("number", "", "{0} {1}"),
        ("csv", "2", "12,{0},9"),
        ("keyvalue", "x", "a=1 x={0} {1}"),
        ("json", "x.v", '{{"x": {{"v": {0}}}}}'),
    ],
)
def test_by_serial_line_and_by_topic(
    role: str,
    unit: str,
    sent: float,
    value_si: float,
    payload_format: str,
    select: str,
    raw: str,
) -> None:
    parser = make_parser(payload_format, [probe(role, unit, select)], {})
    one(parser.parse(raw.format(sent, unit).encode(), 0.0), role, value_si)


@each_instrument
def test_by_register(role: str, unit: str, sent: float, value_si: float) -> None:
    spec = probe(role, unit, "1/input:0:uint32:swap", scale=0.1)
    register = RegisterProbe(read_select(spec.select, role), ProbeValue(spec))
    (block,) = blocks_of([register])
    high, low = divmod(round(sent * 10.0), 0x10000)
    one(block.found((low, high)), role, value_si)
