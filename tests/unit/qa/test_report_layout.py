"""How a report is laid out: no word of usual length is broken, and what few ask for comes last."""

from pathlib import Path

import pytest

from chargeassist.model.display import UnitSystem
from chargeassist.model.usual_limit import OF_THE_PROGRAM
from chargeassist.qa.report_content import report_of
from chargeassist.qa.report_pdf import column_widths
from chargeassist.qa.rescore import rescore
from chargeassist.qa.verify import verify
from chargeassist.session.record.package import open_record


@pytest.mark.parametrize(
    ("words", "texts"),
    [
        ([17.0, 15.0, 20.0, 18.0], [17.0, 24.0, 240.0, 130.0]),  # stage, result, found, judged by
        ([8.0, 8.0], [8.0, 8.0]),
        ([30.0, 14.0, 100.0], [80.0, 14.0, 300.0]),  # an address in the last
    ],
)
def test_every_column_holds_its_longest_word(words: list[float], texts: list[float]) -> None:
    widths = column_widths(words, texts, 178.0)
    assert sum(widths) == pytest.approx(178.0)
    for width, word in zip(widths, words, strict=True):
        assert width >= min(word, 38.0)


def test_more_columns_than_the_page_holds_give_way_alike() -> None:
    widths = column_widths([40.0] * 8, [60.0] * 8, 178.0)
    assert widths == pytest.approx([178.0 / 8] * 8)


def test_limits_nobody_named_are_an_appendix_and_none_is_lost(session_file: Path) -> None:
    with open_record(session_file) as record:
        session = rescore(record)
    report = report_of(session, verify(session_file), UnitSystem.SI)
    (defaults,) = report.appendix
    assert defaults.rows
    assert all(row[2].startswith(OF_THE_PROGRAM) for row in defaults.rows)
    said = next(table for table in report.tables if table.title == "Limits as used")
    assert said.rows[-1] == (
        "others",
        f"{len(defaults.rows)} limits",
        "default of this program: appendix",
    )
    assert not any(row[2].startswith(OF_THE_PROGRAM) for row in said.rows[:-1])
