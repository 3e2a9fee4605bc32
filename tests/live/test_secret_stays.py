"""A password that opens a real broker stands in no file and no line of the session it serves."""

import asyncio
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import aiomqtt
import pytest

from chargeassist.cli.main import main
from chargeassist.session.record.store import SessionReader
from tests.peers.broker import Broker
from tests.peers.program import until

PASSWORD = "s3cret"  # that of the broker's fixture
WITHIN_S = 30.0


JOB = """
name = "invented"
refrigerant = "R-32"
site = {{ altitude = "0 m" }}
target = {{ subcooling = "5 K", tolerance = "1 K", source = "invented" }}
charge = {{ plate = "2 kg", step_cap = "100 g" }}
[[source]]
url = "mqtt://logger@127.0.0.1:{port}?password_env=CHARGEASSIST_RACK"
[[source.probe]]
role = "liquid_temperature"
topic = "open/t"
unit = "°C"
"""


async def publish(port: int, enough: Callable[[], bool]) -> None:
    async with aiomqtt.Client("127.0.0.1", port, username="logger", password=PASSWORD) as client:
        async with asyncio.timeout(WITHIN_S):
            while not enough():
                await client.publish("open/t", b"31.5", qos=1)
                await asyncio.sleep(0.05)


def heard(record: Path) -> bool:
    """Return whether what came by the password is in the record."""
    with SessionReader(record) as reader:
        return reader.counts.get("liquid_temperature", 0) > 5


@pytest.mark.skipif(os.name == "nt", reason="ends the session by a signal")
@pytest.mark.parametrize("password", [PASSWORD, "wr0ng-word"])
def test_the_password_is_in_no_byte_of_the_record(
    guarded: Broker, tmp_path: Path, password: str, capsys: pytest.CaptureFixture[str]
) -> None:
    job, record = tmp_path / "job.toml", tmp_path / "a.session"
    job.write_text(JOB.format(port=guarded.port), encoding="utf-8")
    words = ("live", str(job), "--lines", "--record", str(record))
    with subprocess.Popen(
        [sys.executable, "-m", "chargeassist", *words],
        env={**os.environ, "CHARGEASSIST_RACK": password},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as process:
        assert process.stdout is not None
        lines: list[str] = []
        if password == PASSWORD:
            assert until(lambda: "open/t (QoS 1)" in guarded.log, WITHIN_S)
            asyncio.run(publish(guarded.port, lambda: heard(record)))
        else:
            while "refuses" not in (lines or [""])[-1] and process.poll() is None:
                lines.append(process.stdout.readline())
        process.send_signal(signal.SIGTERM)
        rest, _ = process.communicate(timeout=30)
        shown = "".join(lines) + rest
    assert main(["archive", str(record), "--to", str(tmp_path / "archive"), "--report"]) == 0
    main(["verify", str(tmp_path / "archive")])
    captured = capsys.readouterr()
    told = shown + captured.out + captured.err
    refused = "refuses the user name or password" in told
    assert refused is (password != PASSWORD), told
    for secret in (PASSWORD, password):
        assert secret not in told
        files = [path for path in tmp_path.rglob("*") if path.is_file()]
        assert {"a.session", "events.csv", "report.html"} <= {path.name for path in files}
        for path in files:
            if path.name not in {"mosquitto.log", "mosquitto.conf", "passwords", "rights"}:
                assert secret.encode() not in path.read_bytes(), path
