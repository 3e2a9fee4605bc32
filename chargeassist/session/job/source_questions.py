"""The questions about places that probes are read at, and about each probe."""

from collections.abc import Iterator
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.units import Quantity, unit_symbols
from chargeassist.session.job.more_questions import more_of_a_probe
from chargeassist.session.job.probes import FORMATS
from chargeassist.session.job.question import Question, asked, choice
from chargeassist.session.job.tree import BY_HAND, MORE, Answers, adapter_of

MOST_SOURCES: Final = 9
_ADAPTERS = ("serial", "modbus", "mqtt", "simulator")
_ADDRESS = {
    "serial": "serial:/dev/ttyUSB0?baud=115200",
    "modbus": "modbus:/dev/ttyUSB0?baud=9600&frame=8N1",
    "mqtt": "mqtt://localhost:1883",
    "simulator": "simulator:dirty-condenser?seed=3",
}
_SELECT = {"csv": "1", "keyvalue": "p", "json": "liquid.t", "senml": "liquid/t"}
_ACCURACY = {Quantity.PRESSURE: "1 psi", Quantity.TEMPERATURE: "0.3 K"}
_ROLE_UNITS = {Role.VACUUM: "micron", Role.BAROMETER: "kPaa"}
_UNITS = {Quantity.PRESSURE: "psig", Quantity.TEMPERATURE: "°C"}


def source_questions(answers: Answers) -> Iterator[Question]:
    """Yield the questions where probes are read, and which."""
    taken: set[Role] = set()
    for number in range(1, MOST_SOURCES + 1):
        at = f"source.{number}"
        first = number == 1
        ask = (
            "Where probes are read; by hand: typed, or connected afterwards with "
            "chargeassist probes --guide and the name of this file"
            if first
            else "Another place probes are read; Enter: none"
        )
        adapters = (*_ADAPTERS, BY_HAND) if first else _ADAPTERS
        yield choice(f"{at}.adapter", ask, adapters, needed=first)
        adapter = adapter_of(answers, number)
        if adapter not in _ADAPTERS:
            return
        where = "chargeassist probes" if adapter in ("serial", "modbus") else ""
        yield asked(f"{at}.url", "Its address", _ADDRESS[adapter], where, needed=True)
        if adapter == "simulator":  # brings its own probes
            continue
        if adapter != "modbus":  # there select says how a number is written
            yield Question(
                key=f"{at}.format",
                ask="What it sends: " + ", ".join(FORMATS),
                example="csv",
                default="number",
                choices=FORMATS,
            )
        for role in Role:
            if role not in taken:
                yield from _probe(answers, at, role, adapter)
                if answers.get(f"{at}.{role.value}.unit"):
                    taken.add(role)


def _probe(answers: Answers, at: str, role: Role, adapter: str) -> Iterator[Question]:
    key = f"{at}.{role.value}"
    quantity = role.quantity
    known = unit_symbols(quantity)
    example = _ROLE_UNITS.get(role) or _UNITS.get(quantity, known[0])
    yield asked(f"{key}.unit", f"Probe of {role.label}: the unit it sends; Enter: none", example)
    if not answers.get(f"{key}.unit"):
        return
    if adapter == "mqtt":
        yield asked(f"{key}.topic", "Its topic", "job/clamps", needed=True)
    if adapter == "modbus":
        yield asked(
            f"{key}.select",
            "Its device/table:register:type; the register counted from 0",
            "1/input:3:int16",
            "register list of the device",
            needed=True,
        )
        yield asked(f"{key}.scale", "What its number is multiplied by; Enter: 1", "0.1")
    select = _SELECT.get(answers.get(f"{at}.format", ""))
    if select is not None:
        yield asked(f"{key}.select", "Its column, key or path", select, needed=True)
    yield asked(
        f"{key}.accuracy",
        "Its accuracy, plus and minus",
        _ACCURACY.get(quantity, "1 % of reading"),
        "data sheet or certificate of the probe",
    )
    yield asked(f"{key}.serial", "Its serial number", "P-0000", "on the probe")
    yield asked(f"{key}.calibrated", "Day it was calibrated", "2026-03-02", "its certificate")
    if answers.get(MORE) == "y":
        yield from more_of_a_probe(key, answers[f"{key}.unit"])
