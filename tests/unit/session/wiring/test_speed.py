"""Telling the right baud rate from wrong ones, by bytes as a wrong rate gives them."""

import pytest

from chargeassist.session.listening import Field, Form, Heard
from chargeassist.session.wiring.arrived import Arrivals
from chargeassist.session.wiring.speed import (
    LISTEN_S,
    LONGEST_S,
    SPEEDS,
    SpeedSearch,
    at_next_speed,
    at_speed,
    judged,
    names_speed,
    same_port,
    speed_of,
)
from chargeassist_adapters.conversion import Fault
from chargeassist_adapters.fields import decode
from chargeassist_adapters.lines import LineSplitter
from chargeassist_adapters.serial_probe import FORMATS
from tests.unit.session.wiring.line_coding import heard_at

LINES = {
    "number": b"248.1\r\n249.0\r\n247.6\r\n",
    "csv": b"248.12,121.43,35.20\n247.98,121.40,35.21\n",
    "keyvalue": b"p=248.1 psig t=35.20 C\r\np=248.2 psig t=35.21 C\r\n",
    "json": b'{"p": 248.1, "t": 35.2}\n{"p": 247.9, "t": 35.3}\n',
}


def arrived(chunk: bytes) -> Arrivals:
    """Hear `chunk` as ``listen`` of the serial adapter does."""
    arrivals = Arrivals(lambda: 0.0)
    for item in LineSplitter().feed(chunk):
        found = item if isinstance(item, Fault) else decode(item, FORMATS)
        if isinstance(found, Fault):
            arrivals.trouble(found.reason, found.raw)
        else:
            arrivals.heard(found)
    return arrivals


def good(arrivals: Arrivals, count: int) -> None:
    for _ in range(count):
        arrivals.heard(Heard(b"1", form=Form("number"), fields=(Field("", "1", 1.0),)))


def test_a_line_heard_at_its_own_rate_is_what_was_sent() -> None:
    assert heard_at(LINES["csv"], 9600, 9600) == LINES["csv"]
    assert heard_at(b"U", 9600, 19200) != b"U"


@pytest.mark.parametrize("nul", [True, False])
@pytest.mark.parametrize("idle_bits", [0, 3, 40])
@pytest.mark.parametrize("form", LINES)
def test_the_rate_of_the_sender_is_found_and_no_other(form: str, idle_bits: int, nul: bool) -> None:
    for sent in SPEEDS:
        for received in SPEEDS:
            said = heard_at(5 * LINES[form], sent, received, idle_bits=idle_bits, nul=nul)
            verdict = judged(arrived(said), LISTEN_S)
            assert verdict is (sent == received), (sent, received, said[:80])


def test_what_is_read_or_not_decides_as_soon_as_it_can() -> None:
    arrivals = Arrivals(lambda: 0.0)
    assert judged(arrivals, 0.1) is None
    good(arrivals, 2)
    assert judged(arrivals, 0.1) is None
    good(arrivals, 1)
    assert judged(arrivals, 0.1) is True
    for _ in range(3):
        arrivals.trouble("junk")
    assert judged(arrivals, 0.1) is None, "as many of these as of those"
    arrivals.trouble("junk")
    assert judged(arrivals, 0.1) is False
    good(arrivals, 40)
    assert judged(arrivals, 0.1) is True, "a spark on the line in between"


def test_words_without_a_number_are_no_sign_of_the_right_rate() -> None:
    arrivals = Arrivals(lambda: 0.0)
    for _ in range(3):
        arrivals.heard(Heard(b"hello"))
    assert judged(arrivals, 0.1) is False


def test_a_slow_device_is_sure_with_two_lines_when_the_time_is_over() -> None:
    arrivals = Arrivals(lambda: 0.0)
    good(arrivals, 1)
    assert judged(arrivals, LISTEN_S) is False
    good(arrivals, 1)
    assert judged(arrivals, LISTEN_S - 0.1) is None
    assert judged(arrivals, LISTEN_S) is True


def test_the_search_goes_through_all_rates_and_listens_longer_each_round() -> None:
    search = SpeedSearch("serial:/dev/x?frame=8N1")
    tried: list[tuple[int, float]] = []
    listened = 0.0
    while len(tried) < 5 * len(SPEEDS):
        listened += 1.0
        speed = speed_of(search.url)
        if search.look(Arrivals(lambda: 0.0), listened):
            tried.append((speed, listened))
            listened = 0.0
    rounds = [tried[at : at + len(SPEEDS)] for at in range(0, len(tried), len(SPEEDS))]
    assert all(tuple(speed for speed, _ in each) == SPEEDS for each in rounds)
    assert [each[0][1] for each in rounds] == [4.0, 8.0, 16.0, 32.0, LONGEST_S]
    assert not search.found


def test_the_search_ends_where_lines_can_be_read() -> None:
    search = SpeedSearch("serial:/dev/x")
    assert search.place == "1 of 9"
    assert search.look(Arrivals(lambda: 0.0), LISTEN_S)
    assert (search.url, search.place) == ("serial:/dev/x?baud=115200", "2 of 9")
    arrivals = Arrivals(lambda: 0.0)
    good(arrivals, 3)
    assert not search.look(arrivals, 0.1)
    assert search.found
    assert not search.look(Arrivals(lambda: 0.0), 100.0), "found stays found"


def test_addresses() -> None:
    assert at_next_speed("serial:/dev/x") == "serial:/dev/x?baud=115200"
    assert at_next_speed("serial:/dev/x?frame=8E1") == "serial:/dev/x?frame=8E1&baud=115200"
    assert at_next_speed("serial:/dev/x?baud=1200&frame=8E1") == (
        "serial:/dev/x?baud=230400&frame=8E1"
    )
    assert at_next_speed("serial:/dev/x?baud=230400") == "serial:/dev/x?baud=9600"
    assert at_next_speed("serial:/dev/x?baud=250000") == "serial:/dev/x?baud=9600"
    assert at_speed("serial:/dev/x", 4800) == "serial:/dev/x?baud=4800"
    assert not names_speed("serial:/dev/x?frame=8N1")
    assert names_speed("serial:/dev/x?baud=9600")
    assert same_port("serial:/dev/x", "serial:/dev/x?baud=9600")
    assert same_port("serial:/dev/x?frame=8E1", "serial:/dev/x?baud=9600&frame=8E1")
    assert not same_port("serial:/dev/x", "serial:/dev/y?baud=9600")
    assert not same_port("serial:/dev/x", "serial:/dev/x?frame=8E1")
