"""Lines on terminals too narrow for them."""

import io

import pytest

from chargeassist.cli.paragraphs import WIDTH, beside, hanging, row, width

LINE = "    0.52  clamps  liquid line pressure       105.2 psig (725 kPa gauge)"


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_row_is_wrapped_between_words_on_a_terminal_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "45")
    rows = row(LINE, 18, _Terminal()).splitlines()
    assert len(rows) > 1
    assert all(len(each) < 45 for each in rows)
    assert all(each.startswith(" " * 14) for each in rows[1:]), "at most a third is left blank"
    assert " ".join(rows).split() == LINE.split()
    assert row(LINE, 18, io.StringIO()) == LINE, "through a pipe a row stays a row"


@pytest.mark.parametrize("columns", range(25, 70))
def test_no_line_ends_between_a_number_and_its_unit(
    columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    kept = ("725 kPa gauge", "105.2 psig", "± 0.5 K", "31.2 °C", "5 lb", "95 oz", "30 min", "12 %")
    text = "line " + " then about ".join(kept)
    for broken in (row(text, 12, _Terminal()), "\n".join(hanging(text, "  - ", "    "))):
        assert " ".join(broken.split()).removeprefix("- ") == text
        assert [each for each in kept if each not in broken] == []


def test_a_row_that_fits_stays_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "112")
    assert row(LINE, 18, _Terminal()) == LINE


@pytest.mark.parametrize(("columns", "wanted"), [("200", WIDTH), ("80", 79), ("45", 44), ("9", 24)])
def test_paragraphs_are_no_wider_than_the_terminal(
    monkeypatch: pytest.MonkeyPatch, columns: str, wanted: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert width() == wanted


def test_a_label_stands_beside_nothing() -> None:
    assert list(beside("target", "")) == ["target"]
