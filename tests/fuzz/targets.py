"""What is fuzzed: each target takes any bytes and raises only if a parser breaks its promise.

A promise broken is any exception but the refusals a parser documents, a value that is not finite,
or a reason that cannot be printed.
"""

import json
import math
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.job import ProbeSpec
from chargeassist.qa.log_text import decoded, elapsed_s, moment, number, read_table
from chargeassist.session.record.package import PackageReader, write_package
from chargeassist_adapters.conversion import Fault, Found, PayloadParser, Sample
from chargeassist_adapters.lines import LineSplitter
from chargeassist_adapters.payloads import make_parser
from tests.property.short_session import PRESSURE, short_session

TEMPERATURE = Channel(name="t", role=Role.LIQUID_TEMPERATURE, unit="°F")


def _probes(first: str, second: str) -> list[ProbeSpec]:
    return [
        ProbeSpec(channel=PRESSURE, select=first, scale=0.1),
        ProbeSpec(channel=TEMPERATURE, select=second, offset=-1.0),
    ]


LINES: tuple[PayloadParser, ...] = (
    make_parser("number", [ProbeSpec(channel=TEMPERATURE)], {}),
    make_parser("csv", _probes("1", "3"), {"time": "2", "delimiter": ";"}),
    make_parser("csv", _probes("1", "2"), {"delimiter": "space"}),
    make_parser("keyvalue", _probes("p", "t"), {"time": "s"}),
)
JSON = make_parser("json", _probes("p", "a[0].t"), {"time": "s"})
SENML = make_parser("senml", _probes("p", "t"), {})


def _check(found: Iterable[Found]) -> None:
    for each in found:
        if isinstance(each, Sample):
            assert math.isfinite(each.value), each
            assert each.device_time is None or math.isfinite(each.device_time), each
        else:
            assert isinstance(each, Fault)
            assert each.reason.isprintable(), each.reason
            assert len(each.reason) < 500, each.reason


def line(data: bytes) -> None:
    """Cut `data` into lines and read each in every format of a serial line."""
    splitter = LineSplitter(whole_start=True)
    half = len(data) // 2
    for each in (*splitter.feed(data[:half]), *splitter.feed(data[half:])):
        if not isinstance(each, Fault):
            for parser in LINES:
                _check(parser.parse(each, 12.0))
    assert splitter.held <= 4096


def senml(data: bytes) -> None:
    """Read `data` as a SenML pack (RFC 8428)."""
    _check(SENML.parse(data, 12.0))


def json_payload(data: bytes) -> None:
    """Read `data` as a JSON message."""
    _check(JSON.parse(data, 12.0))


_ROOM = tempfile.TemporaryDirectory(prefix="fuzz-")
_FOLDER = Path(_ROOM.name) / "package"
write_package(short_session(3), _FOLDER)
PACKAGE = {path.name: path.read_bytes() for path in sorted(_FOLDER.iterdir())}
"""Files of the package that is changed; they are its seeds."""


def package(data: bytes) -> None:
    """Put `data` in the place of one file of a good Data Package; its first byte chooses which."""
    name = sorted(PACKAGE)[data[0] % len(PACKAGE)] if data else "events.csv"
    try:
        (_FOLDER / name).write_bytes(data[1:])
        try:
            with PackageReader(_FOLDER) as record:
                report = record.verify()
                assert isinstance(report.problems, tuple)
                assert record.counts is not None
                for event in record.events():
                    assert math.isfinite(event.t), event
        except RecordError:
            return
    finally:
        (_FOLDER / name).write_bytes(PACKAGE[name])


def log(data: bytes) -> None:
    """Read `data` as the CSV file of a logger, and each cell as number, date and elapsed time."""
    try:
        table = read_table(decoded(data))
    except ConfigError:
        return
    for _, cells in table.rows[:50]:
        for cell in cells:
            for read in (
                lambda text: number(text, table.decimal),
                lambda text: moment(text, "", None),
                lambda text: elapsed_s(text, "s", table.decimal),
            ):
                try:
                    read(cell)
                except (ValueError, OverflowError):
                    continue


TARGETS: dict[str, Callable[[bytes], None]] = {
    "line": line,
    "senml": senml,
    "json": json_payload,
    "package": package,
    "log": log,
}

SEEDS: dict[str, tuple[bytes, ...]] = {
    "line": (
        b"248.1 psig\r\n# comment\r\n",
        b"1,5;0.5;35,2\r\n248.1;12;88.7 \xc2\xb0F\n",
        b"p=248.1 psig, t: 35.2 s=12\n",
        b"9.91E37\nNaN\n-999\nOL\n",
        b"\xff\xfe\x00\x1b[2J\n" + b"x" * 60,
        b"p=1 p=2 = : t==\n",
    ),
    "senml": (
        b'[{"bn":"","bt":1.7e9,"n":"p","u":"Pa","v":1711000},{"n":"t","u":"Cel","v":35.2}]',
        b'[{"n":"p","vs":"x"},{"n":"t","s":1,"bs":2},{"n":"t","v":1e400}]',
        b'[{"bver":26,"n":"p","u":"psi","v":1,"t":-5},{"bver":99,"n":"t"}]',
        b'[{"n":"t","u":"F","v":1},{"n":"x","must_":1}]',
        b"[[[[{}]]]]",
    ),
    "json": (
        b'{"p": 248.1, "a": [{"t": 35.2}], "s": 12}',
        b'{"p": "248.1", "a": [], "s": null}',
        b'{"p": 1e400, "a": [{"t": true}]}',
        b'{"p": ' + b"9" * 40 + b"}",
        b'"\\ud800"' + b"[" * 40,
    ),
    "package": tuple(
        bytes([number]) + PACKAGE[name] for number, name in enumerate(sorted(PACKAGE))
    ),
    "log": (
        b"Time,P liquid (psi),T (\xc2\xb0C)\n2026-05-04T08:10:00Z,250,31.5\n",
        b"# x\nt;p [psi]\n0:01:02,5;35,2\n",
        "Zeit\tp\n(s)\t(psi)\n1\t2\n".encode("utf-16"),
        b'"a","b\n',
    ),
}


def make_corpus(folder: Path) -> None:
    """Write the seeds of every target; inputs that once broke a promise stay beside them."""
    for name, seeds in SEEDS.items():
        (folder / name).mkdir(parents=True, exist_ok=True)
        for place, data in enumerate(seeds):
            (folder / name / f"seed-{place}").write_bytes(data)


assert json.loads(PACKAGE["datapackage.json"])
