"""An archive of a session that goes on while it is made."""

import itertools
from pathlib import Path

import pytest

from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Reading,
    SessionStarted,
)
from chargeassist.qa.archive import make_archive
from chargeassist.qa.verify import verify
from chargeassist.session.record.store import SessionReader, SessionWriter


def test_an_archive_of_a_session_that_runs_on_is_of_one_moment(
    tmp_path: Path, charged: list[Event], monkeypatch: pytest.MonkeyPatch
) -> None:
    started = charged[0]
    assert isinstance(started, SessionStarted)
    path = tmp_path / "live.session"
    writer = SessionWriter.create(path, started)
    later = iter(charged[1:-1])

    def write_on(count: int) -> None:
        for event in itertools.islice(later, count):
            writer.append(event)
        writer.commit()

    write_on(500)
    write_on(500)
    ends = SessionReader.commit_ends

    def and_on(reader: SessionReader) -> list[int]:
        found = ends(reader)
        write_on(200)  # between one question of the archive and the next
        return found

    monkeypatch.setattr(SessionReader, "commit_ends", and_on)
    make_archive(path, tmp_path / "live.zip", unfinished=True)
    writer.abandon()
    found = verify(tmp_path / "live.zip")
    assert found.problems == ()
    assert found.rows == 1001
    assert found.chain == "whole, 3 commits"


def test_a_channel_declared_while_a_session_is_archived_is_in_it_or_not(
    tmp_path: Path, charged: list[Event], monkeypatch: pytest.MonkeyPatch
) -> None:
    started = charged[0]
    assert isinstance(started, SessionStarted)
    path = tmp_path / "live.session"
    writer = SessionWriter.create(path, started)
    declared = iter([event for event in charged if isinstance(event, ChannelDeclared)])

    def write_on() -> None:
        event = next(declared, None)
        if event is not None:
            writer.append(event)
            writer.append(Reading(t=0.0, channel=event.channel.name, value=1.0))
            writer.commit()

    write_on()
    some = SessionReader._some

    def and_on(reader: SessionReader, sql: str, *arguments: int | str) -> list[tuple[object, ...]]:
        found = some(reader, sql, *arguments)
        write_on()
        return found

    monkeypatch.setattr(SessionReader, "_some", and_on)
    make_archive(path, tmp_path / "live.zip", unfinished=True)
    writer.abandon()
    assert verify(tmp_path / "live.zip").problems == ()
