"""What came from outside is shown, never obeyed."""

import json

import msgspec
import pytest

from chargeassist.model.text import inert, json_words, plain, storable


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("liquid line", "liquid line"),
        ("\x1b[2J\x1b[31mred", "·[2J·[31mred"),
        ("\x9b31m", "·31m"),  # the one-byte form of an escape sequence
        ("\u202eabc\u202c", "·abc·"),  # right-to-left override
        ("\u2066abc\u2069", "·abc·"),  # isolates
        ("a\u200bb\ufeffc", "a·b·c"),  # zero width
        ("a\x00b\rc\nd\te\x7f", "a·b·c·d·e·"),
        ("a\u2028b\u2029c\x85d", "a·b·c·d"),
        ("\ud800", "·"),
        ("\U000e0041", "·"),  # tag characters
        ("[bold]not markup[/bold]", "[bold]not markup[/bold]"),
        ("21.4 °C · größer", "21.4 °C · größer"),
        (b"P=\xff\xfe248", "P=\N{REPLACEMENT CHARACTER}\N{REPLACEMENT CHARACTER}248"),
        (b"caf\xc3\xa9", "café"),
        (b"", ""),
    ],
)
def test_plain(raw: str | bytes, shown: str) -> None:
    assert plain(raw) == shown


def test_a_long_text_is_cut_and_says_so() -> None:
    assert plain("x" * 10_000_000, 10) == "x" * 9 + "…"
    assert plain(b"\xf0\x9f\x98\x80" * 100, 10) == "\U0001f600" * 9 + "…"
    assert plain("x" * 10, 10) == "x" * 10
    assert plain("xy", 1) == "…"


def test_a_character_cut_in_two_is_not_shown() -> None:
    # The bytes looked at end inside a character; that end lies beyond what is shown.
    assert "\N{REPLACEMENT CHARACTER}" not in plain(b"\xe2\x82\xac" * 1000, 7)


class _Note(msgspec.Struct):
    t: float
    name: str | None
    whole: int
    ready: bool
    many: tuple[str, ...]


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        ('{"t": "x"}', "Expected number, got text - at `$.t`"),
        ('{"t": 1, "name": 7}', "Expected text or null, got whole number - at `$.name`"),
        (
            '{"t": 1, "name": null, "whole": 1.5}',
            "Expected whole number, got number - at `$.whole`",
        ),
        ('{"t": 1, "name": null, "whole": 1, "ready": 1}', "Expected true or false, got whole"),
        (
            '{"t": 1, "name": null, "whole": 1, "ready": true, "many": 3}',
            "Expected list, got whole",
        ),
        ("[]", "Expected object, got list"),
        ('{"t": 1}', "Object missing required field `name`"),
    ],
)
def test_a_reader_of_json_says_what_it_wanted_in_words(sent: str, told: str) -> None:
    with pytest.raises(msgspec.ValidationError) as wrong:
        msgspec.json.decode(sent, type=_Note)
    assert told in json_words(wrong.value)


def test_what_stands_for_bytes_in_a_file_s_name_is_neither_obeyed_nor_lost() -> None:
    name = "a\udc9b31mb"  # of the byte 9B, which begins an escape sequence where it comes through
    assert inert(name) == "a·31mb"
    assert inert("größer\n\t") == "größer\n\t"
    assert json.loads(storable(json.dumps([name], ensure_ascii=False)).encode()) == [name]
    assert storable("größer, 100 %") == "größer, 100 %"
