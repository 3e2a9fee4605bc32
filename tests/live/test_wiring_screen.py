"""The guided probes screen against a real mosquitto broker and real Modbus devices."""

import asyncio
import time
import tomllib
from pathlib import Path

import aiomqtt
import pytest
from textual.pilot import Pilot

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.session.wiring.arrived import Arrivals
from chargeassist.session.wiring.hearing import listen
from chargeassist.session.wiring.section import read_section
from chargeassist.tui.screens.wiring_arrives import Arrives
from chargeassist.tui.screens.wiring_choose import Choose
from chargeassist.tui.screens.wiring_section import Section
from chargeassist.tui.wiring import WiringApp
from tests.peers.broker import Broker
from tests.peers.line import Line, serve_registers
from tests.peers.meanwhile import meanwhile
from tests.tui.running import HANGS_S

SENML = b'[{"bn": "cart/", "n": "suction", "u": "Cel", "v": 12.5}]'
MESSAGES = {
    "job/clamps": b'{"liquid": {"t": 31.2}, "suction": {"t": null}}',
    "job/amps": b"8.4",
    "job/pack": SENML,
    "other/status": b"online \xc2\xb0",
}


async def _publish(port: int) -> None:
    async with aiomqtt.Client("127.0.0.1", port) as client:
        await client.publish("job/kept", b"990", retain=True)
        while True:
            for topic, payload in MESSAGES.items():
                await client.publish(topic, payload)
            await asyncio.sleep(0.1)


def shown(pilot: Pilot[str]) -> list[str]:
    return [
        "".join(segment.text for segment in strip)
        for strip in pilot.app.screen._compositor.render_strips()
    ]


async def until(pilot: Pilot[str], *words: str) -> list[str]:
    lines: list[str] = []
    deadline = time.monotonic() + HANGS_S
    while time.monotonic() < deadline:
        await pilot.pause(0.05)
        lines = shown(pilot)
        picture = " ".join(" ".join(lines).split())
        if all(word in picture for word in words):
            return lines
    pytest.fail(f"{words} never came:\n" + "\n".join(lines))


def row(lines: list[str], words: str) -> str:
    return next(" ".join(line.split()) for line in lines if words in " ".join(line.split()))


async def go_to(pilot: Pilot[str], words: str) -> None:
    """Move to the field whose line begins with `words`."""
    screen = pilot.app.screen
    assert isinstance(screen, Arrives)
    names = [f"{r.place.topic} {r.place.select}".strip() for r in screen._arrivals.rows()]
    screen._list.highlighted = names.index(words)
    await pilot.pause()


def proposed(app: WiringApp) -> Role | None:
    assert isinstance(app.screen, Choose)
    return app.screen._role


async def test_from_topics_to_a_section(broker: Broker, tmp_path: Path) -> None:
    new = tmp_path / "probes.toml"
    app = WiringApp(start=f"mqtt://127.0.0.1:{broker.port}", unicode=True)
    async with meanwhile(_publish(broker.port)), app.run_test(size=(80, 24)) as pilot:
        words = "job/amps", "job/clamps", "cart/suction", "job/kept", "1 without a number"
        lines = await until(pilot, *words, "990 kept")
        assert "null" in row(lines, "job/clamps suction.t")
        await go_to(pilot, "job/clamps liquid.t")
        lines = await until(pilot, "as it came, topic job/clamps:", '{"liquid": {"t": 31.2}')
        await pilot.press("enter")
        assert isinstance(app.screen, Choose)
        # The words of the name put the temperature of the liquid line first among temperatures.
        lines = await until(pilot, "job/clamps liquid.t: 31.2 as sent")
        assert proposed(app) in (Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE)
        app.screen._role_list.highlighted = app.screen._roles.index(Role.LIQUID_TEMPERATURE)
        lines = await until(pilot, "31.2 °C usual")
        await pilot.press("enter", "enter", *"0.3 K", "enter")
        await until(pilot, "liquid_temperature 31.2 °C")

        await go_to(pilot, "job/pack cart/suction")
        await pilot.press("enter")
        lines = await until(pilot, "12.5 Cel as sent", "12.5 °C usual")
        offered = [line for line in lines if "°F or °C" not in " ".join(line.split())]
        assert "°F" not in " ".join(offered)  # the pack names its unit
        assert proposed(app) is Role.SUCTION_TEMPERATURE
        await pilot.press("enter", "enter", "enter")

        await go_to(pilot, "job/amps")
        await pilot.press("enter")
        await until(pilot, "8.40 A usual", "disconnect, lock, verify")
        assert proposed(app) is Role.COMPRESSOR_CURRENT
        await pilot.press("enter", "enter", "enter")
        await until(pilot, "compressor_current 8.40 A")
        await pilot.press("w")
        assert isinstance(app.screen, Section)
        await until(pilot, "3 of 3 probes heard", "31.2 °C", "12.5 °C", "8.40 A")
        await pilot.press("s", *str(new), "enter")
        await pilot.pause()
    assert app.return_value == f"written: {new}"
    text = new.read_text(encoding="utf-8")
    assert [s["url"] for s in tomllib.loads(text)["source"]] == [
        f"mqtt://127.0.0.1:{broker.port}"
    ] * 3
    specs = read_section(text, tmp_path)
    assert [(s.format, s.probes[0].topic, s.probes[0].select) for s in specs] == [
        ("json", "job/clamps", "liquid.t"),
        ("senml", "job/pack", "cart/suction"),
        ("number", "job/amps", ""),
    ]


async def test_a_broker_that_is_not_there_is_told_and_heard_when_it_comes(broker: Broker) -> None:
    broker.stop()
    app = WiringApp(start=f"mqtt://127.0.0.1:{broker.port} job/#", unicode=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "connection refused; is the broker running")
        broker.start()
        async with meanwhile(_publish(broker.port)):
            lines = await until(pilot, "job/amps", "job/clamps")
            # The filter behind the address: other/status is not asked for.
            assert "without a number" not in " ".join(lines)


async def test_an_account_that_may_read_a_part_hears_that_part(
    guarded: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHARGEASSIST_TEST", "s3cret")
    url = f"mqtt://logger@127.0.0.1:{guarded.port}?password_env=CHARGEASSIST_TEST"
    arrivals = Arrivals(asyncio.get_running_loop().time)
    task = asyncio.create_task(listen(url, "", Path(), arrivals))
    try:
        async with aiomqtt.Client(
            "127.0.0.1", guarded.port, username="logger", password="s3cret"
        ) as client:
            for _ in range(100):
                await client.publish("open/t", b"35.2")
                await client.publish("shut/t", b"35.2")
                await asyncio.sleep(0.05)
                if arrivals.count or arrivals.silent_why:
                    break
        assert [r.place.topic for r in arrivals.rows()] == ["open/t"], arrivals.silent_why
    finally:
        task.cancel()
        await asyncio.wait({task})


@pytest.mark.parametrize("topics", ["a/#/b", "a#", "a+/b", "\0"])
async def test_what_is_no_filter_is_refused(topics: str) -> None:
    """MQTT 3.1.1, section 4.7.1: where the wildcards may stand."""
    with pytest.raises(ConfigError, match="topic filter"):
        await listen("mqtt://127.0.0.1:1", topics, Path(), Arrivals(lambda: 0.0))


async def test_registers_are_asked_for_one_by_one(
    wire: Line,
) -> None:
    url = f"modbus:{wire.near}?baud=9600&frame=8N1&period=0.05&timeout=0.1"
    app = WiringApp(start=url, unicode=True)
    async with (
        serve_registers(wire.far, {1: {"input": {0: [2481, 352]}}}),
        app.run_test(size=(80, 24)) as pilot,
    ):
        await until(pilot, "Nothing comes unasked")
        await pilot.press(*"input:0", "enter")
        await until(pilot, "expected device/table:register:type")
        await pilot.press("ctrl+u", *"1/input:0:uint16", "enter")
        await until(pilot, "1/input:0:uint16 2481")
        await pilot.press("t", *"1/input:1:int16", "enter")
        await until(pilot, "1/input:0:uint16 2481", "1/input:1:int16 352")
        await pilot.press("enter")
        await until(pilot, "2481 as sent", "psig")
        await pilot.press("enter", "backspace", *"0.1", "enter")
        lines = await until(pilot, "psig 1711 kPa gauge usual")  # in tenths: 248.1 psi
        assert "248 kPa gauge not usual here" in row(lines, "kPag")
        await pilot.press("enter", "enter")
        await until(pilot, "liquid_pressure 1711 kPa gauge")
        await pilot.press("w")
        await until(pilot, "scale = 0.1", "1 of 1 probes heard", "1711 kPa gauge")
        await pilot.press("escape")
        await until(pilot, "2 what arrives", "1/input:1:int16 352")  # both are asked for again
        await pilot.press("w", "p")
        await pilot.pause()
    assert app.return_value is not None
    (source,) = tomllib.loads(app.return_value)["source"]
    assert source == {
        "url": url,
        "probe": [
            {
                "role": "liquid_pressure",
                "select": "1/input:0:uint16",
                "scale": 0.1,
                "unit": "psig",
            }
        ],
    }
