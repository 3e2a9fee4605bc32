"""The report as a PDF, laid out by fpdf2; no browser and no system library is needed."""

import datetime as dt
from collections import deque
from collections.abc import Sequence
from io import BytesIO
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

from chargeassist.qa.extras import extra
from chargeassist.qa.report_content import Report
from chargeassist.qa.report_pictures import Picture
from chargeassist.qa.report_table import Table
from chargeassist.qa.report_texts import with_texts

if TYPE_CHECKING:
    from fpdf import FPDF

_FONT = "DejaVu"
NO_LETTER = "\N{WHITE VERTICAL RECTANGLE}"
_LETTERS_NAMED = 8
_EPOCH = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
"""In the place of the time of making, so that the same record gives the same bytes."""
_LONGEST_WORD_MM = 38.0
"""A word longer than this is an address or a hash, and may be broken."""
_PADDING_MM = 3.4
"""Of a cell, left and right, with what fpdf2 keeps free itself."""


def pdf(report: Report, drawn: Sequence[Picture]) -> bytes:
    """Return the report as PDF, A4.

    Raises
    ------
    ConfigError
        If a library is not installed.
    """
    with extra("qa", "a PDF report"):
        import matplotlib as mpl
        from fpdf import FPDF
    fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"

    class Page(FPDF):  # type: ignore[misc]  # untyped where it is not installed
        def footer(self) -> None:
            self.set_y(-12)
            self.set_font(_FONT, size=7)
            self.set_text_color(90)
            self.cell(0, 4, f"{report.banner or report.title}   ·   {self.page_no()}/{{nb}}")

    page = Page(format="A4")
    page.set_creation_date(_EPOCH)
    page.set_title(report.title)  # of the file: shown in a font of whoever reads it
    page.set_lang("en")
    page.add_font(_FONT, "", fonts / "DejaVuSans.ttf")
    page.add_font(_FONT, "B", fonts / "DejaVuSans-Bold.ttf")
    report, lacking = _printable(report, page)
    page.set_margin(16)
    page.set_auto_page_break(auto=True, margin=18)
    page.add_page()
    _head(page, report)
    if lacking:
        _line(page, lacking)
    _facts(page, "What was installed", report.facts)
    _pictures_and_tables(page, drawn, report.tables)
    _title(page, "Cautions")
    for caution in report.cautions:
        _line(page, f"• {caution}")
    _pairs(page, "Proof", report.proof)
    _signatures(page)
    if report.appendix:
        page.add_page()
    for table in report.appendix:
        _table(page, table)
    return bytes(page.output())


def _printable(report: Report, page: "FPDF") -> tuple[Report, str]:
    """Return `report` with `NO_LETTER` where the font lacks a letter, and a sentence that says so.

    The sentence is empty where nothing is lacking. No font of a few megabytes has every script.
    """
    known = set.intersection(*(set(font.cmap) for font in page.fonts.values()))
    lacking: dict[str, None] = {}

    def shown(text: str) -> str:
        missing = [letter for letter in text if letter != "\n" and ord(letter) not in known]
        lacking.update(dict.fromkeys(missing))
        return text.translate({ord(letter): NO_LETTER for letter in missing})

    changed: Report = with_texts(report, shown)
    if not lacking:
        return report, ""
    named = ", ".join(f"U+{ord(letter):04X}" for letter in [*lacking][:_LETTERS_NAMED])
    more = len(lacking) - _LETTERS_NAMED
    return changed, (
        f"{NO_LETTER} stands for letters that the font of this PDF lacks ({named}"
        f"{f' and {more} more' if more > 0 else ''}); the HTML report of the same record has them."
    )


def _head(page: "FPDF", report: Report) -> None:
    page.set_font(_FONT, "B", 15)
    page.multi_cell(0, 7, report.title, new_x="LMARGIN", new_y="NEXT")
    _line(page, report.subtitle)
    if report.banner:
        page.set_font(_FONT, "B", 10)
        page.set_text_color(122, 51, 0)
        page.set_draw_color(176, 74, 0)
        page.multi_cell(0, 7, report.banner, border=1, new_x="LMARGIN", new_y="NEXT")
        page.set_text_color(0)
        page.set_draw_color(150)
        page.ln(2)
    page.set_font(_FONT, "B", 10)
    page.set_fill_color(242, 247, 251)
    page.multi_cell(0, 6, report.verdict, fill=True, align="L", new_x="LMARGIN", new_y="NEXT")
    page.set_fill_color(255)


def _title(page: "FPDF", text: str) -> None:
    if page.will_page_break(24):
        page.add_page()
    page.ln(4)
    page.set_font(_FONT, "B", 10.5)
    page.multi_cell(0, 6, text, border="B", new_x="LMARGIN", new_y="NEXT")
    page.ln(1)


def _line(page: "FPDF", text: str) -> None:
    page.set_font(_FONT, size=8.5)
    page.multi_cell(0, 4.4, text, align="L", new_x="LMARGIN", new_y="NEXT")


def _facts(page: "FPDF", title: str, pairs: Sequence[tuple[str, str]]) -> None:
    """Write short facts in two columns, so that the first page has room for what came of it."""
    _title(page, title)
    page.set_font(_FONT, size=8.5)
    half = (len(pairs) + 1) // 2
    with page.table(
        borders_layout="NONE",
        col_widths=(20, 30, 20, 30),
        line_height=4.4,
        first_row_as_headings=False,
        text_align="LEFT",
        v_align="TOP",
    ) as table:
        for left, right in zip_longest(pairs[:half], pairs[half:], fillvalue=("", "")):
            table.row((*left, *right))


def _pictures_and_tables(
    page: "FPDF", pictures: Sequence[Picture], tables: Sequence[Table]
) -> None:
    """Write both in their order; a picture the page has no room for lets the next table go first.

    Tables go over the page's end and pictures do not: so no page is left half empty.
    """
    waiting = deque(pictures)
    for table in tables:
        while waiting and not page.will_page_break(_picture_height(page)):
            _picture(page, waiting.popleft())
        _table(page, table)
    for picture in waiting:
        _picture(page, picture)


def _pairs(page: "FPDF", title: str, pairs: Sequence[tuple[str, str]]) -> None:
    _title(page, title)
    page.set_font(_FONT, size=8.5)
    with page.table(
        borders_layout="NONE",
        col_widths=(30, 70),
        line_height=4.4,
        first_row_as_headings=False,
        text_align="LEFT",
    ) as table:
        for pair in pairs:
            table.row(pair)


def _table(page: "FPDF", content: Table) -> None:
    _title(page, content.title)
    if not content.rows:
        _line(page, content.empty)
        return
    page.set_font(_FONT, size=8)
    rows = (content.columns, *content.rows)
    page.set_font(_FONT, "B", 8)  # the broader one: of the headings
    columns = [[row[n] for row in rows] for n in range(len(content.columns))]
    widths = column_widths(
        [max(page.get_string_width(word) for text in cells for word in text.split() or [""])
         for cells in columns],
        [max(map(page.get_string_width, cells)) for cells in columns],
        page.epw,
    )  # fmt: skip
    page.set_font(_FONT, size=8)
    with page.table(
        borders_layout="HORIZONTAL_LINES",
        col_widths=tuple(widths),
        line_height=4.2,
        padding=0.6,
        text_align="LEFT",
    ) as table:
        for row in rows:
            table.row(row)


def column_widths(
    words: Sequence[float], texts: Sequence[float], whole: float
) -> tuple[float, ...]:
    """Return how broad each column of a table is, so that no word of usual length is broken [mm].

    Parameters
    ----------
    words, texts : sequence of float
        Longest word and longest text of each column [mm].
    whole : float
        Breadth of the table [mm].
    """
    least = [min(word, _LONGEST_WORD_MM) + _PADDING_MM for word in words]
    fitting = [min(text + _PADDING_MM, whole) for text in texts]
    wanted = [max(pair) for pair in zip(least, fitting, strict=True)]
    spare = whole - sum(least)
    more = [want - low for want, low in zip(wanted, least, strict=True)]
    if spare <= 0.0:  # many broad columns: each gives way alike
        return tuple(low * whole / sum(least) for low in least)
    share = min(1.0, spare / sum(more)) if sum(more) else 0.0
    widths = [low + part * share for low, part in zip(least, more, strict=True)]
    widths[-1] += whole - sum(widths)
    return tuple(widths)


def _picture_height(page: "FPDF") -> float:
    """Return what a picture takes with its title and its words [mm]."""
    return float(page.epw) * 3.0 / 7.2 + 22.0


def _picture(page: "FPDF", picture: Picture) -> None:
    if page.will_page_break(_picture_height(page)):
        page.add_page()
    _title(page, picture.title)
    page.image(BytesIO(picture.data), w=page.epw, alt_text=picture.words)
    _line(page, picture.words)


def _signatures(page: "FPDF") -> None:
    if page.will_page_break(21):
        page.add_page()
    page.ln(16)
    page.set_font(_FONT, size=8)
    half = page.epw / 2 - 6
    page.cell(half, 5, "Technician, date", border="T")
    page.cell(12, 5, "")
    page.cell(half, 5, "Customer, date", border="T", new_x="LMARGIN", new_y="NEXT")
