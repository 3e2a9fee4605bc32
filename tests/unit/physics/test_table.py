import json
from collections.abc import Iterator

import pytest

from chargeassist.model.errors import RecordDamagedError
from chargeassist.physics import table


@pytest.fixture
def fresh_cache() -> Iterator[None]:
    table.shipped_table.cache_clear()
    yield
    table.shipped_table.cache_clear()


def test_shipped_file_names_its_own_hash_and_its_maker() -> None:
    shipped = table.shipped_table()
    document = json.loads(table.shipped_text())
    assert shipped.sha256 == table.table_hash() == document["sha256"]
    assert len(shipped.sha256) == 64
    assert tuple(int(part) for part in shipped.coolprop_version.split(".")[:2]) >= (8, 0)
    assert len(shipped.coolprop_revision) == 40


def test_shipped_file_holds_the_refrigerants_of_the_trade() -> None:
    wanted = {
        "R-22", "R-32", "R-134a", "R-290", "R-404A", "R-407C", "R-410A", "R-448A", "R-449A",
        "R-452B", "R-454B", "R-513A", "R-744", "R-1234yf",
    }  # fmt: skip
    entries = table.shipped_table().entries
    assert wanted <= set(entries)
    for entry in entries.values():
        lengths = {
            len(entry.bubble_temp_k),
            len(entry.dew_temp_k),
            len(entry.liquid_density_kg_per_m3),
        }
        assert lengths == {257}
        assert sum(fraction for _, fraction in entry.composition) == pytest.approx(1.0)


def test_text_is_the_same_after_decoding_and_encoding_again() -> None:
    text = table.shipped_text()
    document = json.loads(text)
    del document["sha256"]
    assert table.decode(table.encode(document)).sha256 == table.decode(text).sha256
    order = list(json.loads(text))
    document = {key: json.loads(text)[key] for key in order if key != "sha256"}
    assert table.encode(document) == text


def test_line_ends_and_indentation_do_not_matter() -> None:
    text = table.shipped_text()
    assert table.decode(text.replace("\n", "\r\n")).sha256 == table.table_hash()
    assert table.decode(json.dumps(json.loads(text), indent=1)).sha256 == table.table_hash()


def test_a_changed_number_is_found() -> None:
    document = json.loads(table.shipped_text())
    document["refrigerants"]["R-32"]["bubble_temp_k"][100] += 1e-6
    with pytest.raises(RecordDamagedError, match=r"SHA-256.*a number in it was changed"):
        table.decode(json.dumps(document))


def test_a_removed_refrigerant_is_found() -> None:
    document = json.loads(table.shipped_text())
    del document["refrigerants"]["R-22"]
    with pytest.raises(RecordDamagedError, match="SHA-256"):
        table.decode(json.dumps(document))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "expected JSON"),
        ('{"format": "chargeassist satur', "expected JSON"),
        ("[1, 2]", "came another file"),
        ('{"format": "something"}', "came another file"),
        ('{"format": "chargeassist saturation table", "format_version": 2}', "came 2"),
        (
            '{"format": "chargeassist saturation table", "format_version": 1, "x": NaN}',
            "NaN or an infinity",
        ),
    ],
)
def test_other_texts_are_refused_with_what_to_do(text: str, says: str) -> None:
    with pytest.raises(RecordDamagedError, match=says) as caught:
        table.decode(text)
    assert "install chargeassist anew" in str(caught.value)


@pytest.mark.usefixtures("fresh_cache")
def test_a_missing_file_is_an_error_that_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(table, "FILE_NAME", "no_such_table.json")
    with pytest.raises(RecordDamagedError, match=r"no_such_table\.json cannot be read"):
        table.shipped_table()
