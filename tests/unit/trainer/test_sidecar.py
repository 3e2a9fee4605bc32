"""Notes beside a recording: kept whole, bound to it, and never in it. Everything is invented."""

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from chargeassist.model.errors import RecordError
from chargeassist.trainer.sidecar import Entry, EntryKind, Sidecar, sidecar_path

RECORDING = Path(__file__).resolve().parents[3] / "recordings" / "quarry-road-bakery"


def test_entries_come_back_in_order_of_time(tmp_path: Path) -> None:
    place = tmp_path / "one.session"
    kept = Sidecar(place, "a1")
    kept.add(Entry(90.0, EntryKind.NOTE, "watch\x1b the clamp"))
    kept.add(Entry(30.0, EntryKind.BOOKMARK))
    again = Sidecar(place, "a1")
    assert again.entries == kept.entries
    assert [entry.t for entry in again.entries] == [30.0, 90.0]
    assert "\x1b" not in again.entries[1].text
    assert [path.name for path in tmp_path.iterdir()] == ["one.session.notes.json"]
    assert json.loads(again.path.read_text("utf-8"))["session_id"] == "a1"


def test_folder_and_descriptor_have_the_same_notes() -> None:
    beside = RECORDING.with_name("quarry-road-bakery.notes.json")
    assert sidecar_path(RECORDING) == sidecar_path(RECORDING / "datapackage.json") == beside


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("nothing", "expected notes of this program"),
        ('{"format": "chargeassist notes 9", "session_id": "a1"}', "chargeassist notes 1"),
        ('{"format": "chargeassist notes 1", "session_id": "b2"}', "another recording"),
        ('{"format": "chargeassist notes 1", "session_id": "a1", "extra": 1}', "unknown field"),
    ],
)
def test_a_file_that_does_not_belong_is_refused_and_left(
    text: str, words: str, tmp_path: Path
) -> None:
    file = tmp_path / "one.session.notes.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(RecordError, match=words):
        Sidecar(tmp_path / "one.session", "a1")
    assert file.read_text("utf-8") == text


def test_where_nothing_can_be_written_the_entry_is_kept_in_memory(tmp_path: Path) -> None:
    kept = Sidecar(tmp_path / "gone" / "one.session", "a1")
    with pytest.raises(RecordError, match="kept only until you leave"):
        kept.add(Entry(1.0, EntryKind.BOOKMARK))
    assert len(kept.entries) == 1


def test_the_recording_stays_as_it_was_bit_for_bit(tmp_path: Path) -> None:
    copy = tmp_path / "bakery"
    shutil.copytree(RECORDING, copy)

    def digest() -> dict[str, str]:
        return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in copy.iterdir()}

    before = digest()
    Sidecar(copy, "a1").add(Entry(12.0, EntryKind.NOTE, "here"))
    assert digest() == before
