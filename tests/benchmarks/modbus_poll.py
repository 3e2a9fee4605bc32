"""How long a Modbus poll takes at 9600 baud, beside the time its bytes need on the wire.

A scripted device on a pseudo-terminal answers after the time that request, silence and answer take
at that speed; a pseudo-terminal itself knows none. What a device thinks is left out, as it differs
from device to device: add it once a request. Run: ``python tests/benchmarks/modbus_poll.py``.
"""

import asyncio
import os
import select
import statistics
import sys
import threading
import time
from itertools import pairwise
from pathlib import Path

from pymodbus.framer import FramerRTU

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.testing import CollectingSink, SteadyClock
from chargeassist_adapters.modbus_line import Timing, frame_time_s, gap_s
from chargeassist_adapters.modbus_probe import ModbusSource
from chargeassist_adapters.port import PortSettings

BAUD = 9600
SETTINGS = PortSettings("", BAUD, 8, "N", 1.0)
ROUNDS = 60


def answer(master: int, stop: threading.Event) -> None:
    """Answer every read, as late as the wire makes it."""
    while not stop.is_set():
        if not select.select([master], [], [], 0.01)[0]:
            continue
        heard = time.perf_counter()
        request = os.read(master, 8)
        count = request[5]
        frame = bytes([*request[:2], 2 * count]) + bytes(2 * count)
        frame += FramerRTU.compute_CRC(frame).to_bytes(2, "big")
        due = heard + (len(request) + len(frame)) * 10 / BAUD + gap_s(SETTINGS)
        time.sleep(max(0.0, due - time.perf_counter()))
        os.write(master, frame)


async def poll_s(port: str, selects: list[str]) -> float:
    """Return the median time from one round to the next."""
    probes = tuple(
        ProbeSpec(channel=Channel(name=f"p{n}", role=Role.COMPRESSOR_CURRENT, unit="A"), select=s)
        for n, s in enumerate(selects)
    )
    url = f"modbus:{port}?baud={BAUD}&frame=8N1"
    source = ModbusSource.from_spec(SourceSpec(name="line", url=url, probes=probes), Path())
    source._timing = Timing(period_s=0.0)  # the next round begins at once
    sink = CollectingSink("line", SteadyClock())
    run = asyncio.create_task(source.run(sink, SteadyClock()))
    await sink.until(lambda k: len(k.readings) >= ROUNDS * len(probes), within_s=120.0)
    run.cancel()
    await asyncio.wait({run})
    times = [r.t for r in sink.readings if r.channel == "p0"]
    return statistics.median(b - a for a, b in pairwise(times))


def main() -> None:
    """Print one row for each way probes may lie."""
    if sys.platform == "win32":
        raise SystemExit("no pseudo-terminals on Windows")
    import tty

    master, slave = os.openpty()
    tty.setraw(slave)
    stop = threading.Event()
    thread = threading.Thread(target=answer, args=(master, stop))
    thread.start()
    print("probes  registers    requests  wire ms  round ms  ratio  ms a probe")
    for number, apart in ((1, 1), (4, 1), (8, 1), (4, 5), (8, 5)):
        selects = [f"1/input:{n * apart}:int16" for n in range(number)]
        requests = 1 if apart == 1 else number
        wire_s = requests * frame_time_s(SETTINGS, number if apart == 1 else 1)
        took_s = asyncio.run(poll_s(os.ttyname(slave), selects))
        lie = "side by side" if apart == 1 else "apart"
        print(
            f"{number:6}  {lie:12} {requests:8}  {1e3 * wire_s:7.1f}  {1e3 * took_s:8.1f}  "
            f"{took_s / wire_s:5.2f}  {1e3 * took_s / number:10.1f}"
        )
    stop.set()
    thread.join()


if __name__ == "__main__":
    main()
