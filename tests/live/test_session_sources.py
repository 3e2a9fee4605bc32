"""One session from a pseudo-terminal and an MQTT broker at once, each of them lost and back."""

import asyncio
import sys
from pathlib import Path

import aiomqtt
import pytest

from chargeassist.model.events import Action, Reading, SourceBack, SourceLost
from tests.live.sessions import (
    PERIOD_S,
    quiet_while_away,
    replays_the_same,
    until,
    watched,
    whole_record,
)
from tests.peers.broker import Broker
from tests.peers.meanwhile import meanwhile
from tests.peers.terminal import SerialPort

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

SOURCES = """
[[source]]
name = "cable"
url = "serial:{device}?baud=115200"

[[source.probe]]
role = "liquid_pressure"
unit = "psig"
accuracy = "2 psi"
max_age = "1 s"

[[source]]
name = "radio"
url = "mqtt://127.0.0.1:{port}"

[[source.probe]]
role = "liquid_temperature"
topic = "rig/liquid"
unit = "°F"
accuracy = "0.5 K"
max_age = "1 s"

[[source.probe]]
role = "compressor_current"
topic = "rig/amps"
unit = "A"
max_age = "1 s"
"""
CHANNELS = ("liquid_pressure", "liquid_temperature", "compressor_current")


async def send_by_cable(cable: SerialPort) -> None:
    """Send a pressure ten times a second while plugged in."""
    k = 0
    while True:
        k += 1
        cable.put(b"%.1f\r\n" % (339.0 + 0.1 * (k % 5)))
        await asyncio.sleep(0.1)


async def send_by_radio(port: int) -> None:
    """Publish a temperature and amps ten times a second while the broker is there."""
    k = 0
    while True:
        try:
            async with aiomqtt.Client("127.0.0.1", port, timeout=1.0) as client:
                while True:
                    k += 1
                    await client.publish("rig/liquid", f"{93.0 + 0.1 * (k % 4):.1f}")
                    await client.publish("rig/amps", f"{7.0 + 0.01 * (k % 9):.2f}")
                    await asyncio.sleep(0.1)
        except (aiomqtt.MqttError, OSError):
            await asyncio.sleep(0.2)


async def test_cable_and_radio_are_lost_and_back_and_the_session_goes_on(
    broker: Broker, tmp_path: Path
) -> None:
    away_s = 4.0
    with SerialPort(tmp_path / "ttyTEST") as cable:
        sources = SOURCES.format(device=cable.link, port=broker.port)
        async with (
            meanwhile(send_by_cable(cable), send_by_radio(broker.port)),
            watched(sources, tmp_path) as here,
        ):
            await here.heard_anew(*CHANNELS)
            await here.shown_for(1.0)
            await asyncio.to_thread(broker.stop)
            await until(lambda: here.said(SourceLost, "radio"))
            await here.shown_for(away_s)
            await asyncio.to_thread(broker.start)
            await until(lambda: here.said(SourceBack, "radio"))
            await here.heard_anew(*CHANNELS)
            await here.shown_for(1.0)
            cable.unplug()
            await until(lambda: here.said(SourceLost, "cable"))
            await here.shown_for(away_s)
            cable.plug_in()
            await until(lambda: here.said(SourceBack, "cable"))
            await here.heard_anew(*CHANNELS)
            await here.shown_for(1.0)

    recorded = whole_record(here.record)
    for source, channels, other in (
        ("radio", {"liquid_temperature", "compressor_current"}, "liquid_pressure"),
        ("cable", {"liquid_pressure"}, "compressor_current"),
    ):
        (lost_t,) = [e.t for e in recorded if isinstance(e, SourceLost) and e.source == source]
        (back_t,) = [e.t for e in recorded if isinstance(e, SourceBack) and e.source == source]
        assert back_t - lost_t >= away_s
        while_away = [e for e in recorded if isinstance(e, Reading) and lost_t < e.t < back_t]
        assert not channels & {e.channel for e in while_away}, "nothing is made up"
        others = [e for e in while_away if e.channel == other]
        assert len(others) > 5 * away_s, "the other source is heard all the while"
        quiet = quiet_while_away(here, source, lost_t, back_t)
        assert len(quiet) >= (away_s - 3.0) / PERIOD_S, "the session goes on"
        assert {s.advice.action for s in quiet} == {Action.FIX_FIRST}
        assert {s.advice.cause for s in quiet} == {"no_signal"}
    assert {s.advice.action for s in here.shown} <= {Action.FIX_FIRST, Action.WAIT}
    await replays_the_same(here.record)
