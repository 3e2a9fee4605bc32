import hashlib
import math
from dataclasses import replace
from typing import Any

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import RecordError
from chargeassist.model.events import ChannelDeclared, Event, Mark, MarkKind, Reading
from chargeassist.session.record.chain import (
    Chain,
    ChainOfCommits,
    EventRow,
    ReadingRow,
    Row,
    RowsDigest,
    genesis,
    row_of,
)


def test_line_of_a_reading_is_as_documented() -> None:
    row = row_of(7, Reading(t=1.25, channel="liquid_t", value=310.15, device_time=1e9))
    assert row.line() == "7\t1.25\treading\tliquid_t\t310.15\tgood\t1000000000.0\n"
    row = row_of(8, Reading(t=2.0, channel="liquid_t", value=1e-7, quality=Quality.RANGE))
    assert row.line() == "8\t2.0\treading\tliquid_t\t1e-07\trange\t\n"


def test_line_of_an_event_has_no_raw_tab_or_line_feed() -> None:
    row = row_of(1, Mark(t=0.0, kind=MarkKind.NOTE, text="a\tb\nc"))
    assert row.line().count("\t") == 3
    assert row.line().count("\n") == 1
    assert row.line().isascii()


def test_hash_of_a_commit_is_the_documented_text_hashed() -> None:
    # Computed here from the bytes the documentation promises, not from the code's own lines.
    start = hashlib.sha256(b"chargeassist session 1\nabc\n").digest()
    assert genesis("abc") == start
    rows = [row_of(1, Reading(t=0.5, channel="a", value=2.0))]
    expected = hashlib.sha256(
        start + b"1\t0.5\tcommit\t1\n" + b"1\t0.5\treading\ta\t2.0\tgood\t\n"
    ).digest()
    chain = Chain(genesis("abc"))
    assert chain.next_hash(0.5, 1, rows) == expected
    chain.advance(expected)
    second = hashlib.sha256(expected + b"2\t0.5\tcommit\t1\n").digest()
    assert chain.next_hash(0.5, 1, []) == second


def test_sha256_is_the_standard_one() -> None:
    # FIPS 180-4 example (NIST, "SHA256.pdf" of the examples with intermediate values): "abc".
    assert hashlib.sha256(b"abc").hexdigest() == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_any_change_of_a_row_changes_the_hash() -> None:
    base = ReadingRow(1, 0.5, "a", 2.0, "good", None)
    variants: list[Row] = [
        base,
        base._replace(seq=2),
        base._replace(t=math.nextafter(0.5, 1.0)),
        base._replace(channel="b"),
        base._replace(value=math.nextafter(2.0, 3.0)),
        base._replace(quality="range"),
        base._replace(device_time=0.0),
        EventRow(1, 0.5, "mark", "{}"),
        EventRow(1, 0.5, "note", "{}"),
        EventRow(1, 0.5, "mark", "{ }"),
    ]
    digests = set()
    for row in variants:
        digest = RowsDigest("abc")
        digest.add(row)
        digests.add(digest.hexdigest())
    assert len(digests) == len(variants)


def test_every_event_comes_back_from_its_row(whole: list[Event]) -> None:
    for seq, event in enumerate(whole, 1):
        assert row_of(seq, event).event() == event


def test_negative_zero_becomes_zero_as_sqlite_keeps_it() -> None:
    row = row_of(1, Reading(t=-0.0, channel="a", value=-0.0, device_time=-0.0))
    assert row.line() == "1\t0.0\treading\ta\t0.0\tgood\t0.0\n"
    without = row_of(1, Reading(t=-0.0, channel="a", value=-0.0))
    assert without.line() == "1\t0.0\treading\ta\t0.0\tgood\t\n"


def test_rows_that_can_be_no_event_are_refused() -> None:
    with pytest.raises(RecordError, match="quality"):
        ReadingRow(1, 0.0, "a", 1.0, "fine", None).event()
    with pytest.raises(RecordError, match="among the events"):
        EventRow(1, 0.0, "reading", "{}").event()
    with pytest.raises(RecordError, match="channel name"):
        row_of(
            1, ChannelDeclared(t=0.0, channel=Channel(name="a\tb", role=Role.BAROMETER, unit="Pa"))
        )


@pytest.mark.parametrize(
    "changed",
    [{"t": math.nan}, {"value": math.inf}, {"device_time": math.nan}, {"t": "x"}, {"value": None}],
)
def test_a_reading_whose_numbers_are_none_is_refused(changed: dict[str, Any]) -> None:
    sound = ReadingRow(1, 0.5, "a", 2.0, "good", 1.0)
    assert sound.event().device_time == 1.0
    with pytest.raises(RecordError, match="expected finite numbers"):
        sound._replace(**changed).event()


@pytest.mark.parametrize("changed", [{"kind": 1}, {"body": b"{}"}, {"body": None}])
def test_an_event_that_is_no_text_is_refused(changed: dict[str, Any]) -> None:
    with pytest.raises(RecordError, match="kind and body as text"):
        EventRow(1, 0.5, "mark", "{}")._replace(**changed).event()


@pytest.mark.parametrize(
    "changed", [{"t": math.nan}, {"value": math.inf}, {"device_time": -math.inf}]
)
def test_a_reading_that_is_not_finite_is_not_recorded(changed: dict[str, Any]) -> None:
    with pytest.raises(RecordError, match="finite"):
        row_of(1, replace(Reading(t=0.5, channel="a", value=2.0), **changed))


def test_a_chain_computed_again_says_where_rows_and_commits_part() -> None:
    rows = [row_of(n, Reading(t=n / 2.0, channel="a", value=2.0)) for n in (1, 2, 3)]
    chain = Chain(genesis("abc"))
    for last in (2, 3):
        chain.advance(chain.next_hash(last / 2.0, last, rows[2 * (last - 2) : last]))
    head = chain.head.hex()

    def problem(ends: list[int], of: list[Row], head: str = head) -> str:
        again = ChainOfCommits("abc", ends)
        for row in of:
            again.take(row, row.line().encode())
        return again.problem(head)

    assert problem([2, 3], rows) == ""
    ends = "the commits do not end where the rows end"
    assert problem([2], rows) == problem([2, 3], rows[:2]) == problem([2, 3, 4], rows) == ends
    broken = "the rows do not give the hash the session file's chain ended in"
    assert problem([1, 3], rows) == problem([3], rows) == broken
    assert problem([2, 3], [*rows[:2], rows[2]._replace(t=1.6)]) == broken
    assert problem([2, 3], rows, "00" * 32) == broken
