"""A program of its own that reads one source and says how old each reading was when it came.

The far end sends the machine's monotonic clock [s], in hertz or any unit that leaves it as it is.
Run with the address, the format and the probe's ``select`` and topic; a line "AGE" a reading.
"""

import asyncio
import sys
import time
from pathlib import Path

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.plugins import make_source
from chargeassist.testing import CollectingSink, SteadyClock


class _Ages(CollectingSink):
    def reading(self, channel: str, value: float, **rest: object) -> None:
        del channel, rest
        print(f"AGE {time.monotonic() - value:.3f}", flush=True)

    def lost(self, reason: str, *, part: str = "") -> None:
        print(f"LOST {part} {reason}", flush=True)

    def dropped(self, count: int) -> None:
        print(f"DROPPED {count}", flush=True)


async def read(url: str, payload_format: str, select: str, topic: str, scale: str) -> None:
    """Read until ended by a signal."""
    channel = Channel(name="clock", role=Role.COMPRESSOR_FREQUENCY, unit="Hz")
    probe = ProbeSpec(channel=channel, select=select, topic=topic, scale=float(scale))
    spec = SourceSpec(name="far", url=url, format=payload_format, probes=(probe,))
    clock = SteadyClock()
    await make_source(spec, Path()).run(_Ages("far", clock), clock)


if __name__ == "__main__":
    asyncio.run(read(*sys.argv[1:]))
