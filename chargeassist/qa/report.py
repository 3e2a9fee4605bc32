"""Make the report of a record: one HTML page without a network, or a PDF."""

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.text import inert
from chargeassist.qa.extras import extra
from chargeassist.qa.keys import KnownKey
from chargeassist.qa.report_content import Report, report_of
from chargeassist.qa.report_pictures import Picture, pictures
from chargeassist.qa.report_texts import with_texts
from chargeassist.qa.report_trace import Trace
from chargeassist.qa.rescore import rescore
from chargeassist.qa.verify import Verification, verify, verify_opened
from chargeassist.session.record.package import open_record
from chargeassist.session.record.package_layout import Attachment
from chargeassist.session.record.package_reader import PackageReader
from chargeassist.session.record.reader import RecordReader
from chargeassist.session.record.store_reader import SessionReader
from chargeassist.session.whole_file import write_whole

FORMS = (".html", ".pdf")


def make_report(record: RecordReader, checked: Verification, form: str, units: str = "") -> bytes:
    """Return the report of `record` as a file's bytes; the same each time.

    Parameters
    ----------
    record : RecordReader
    checked : Verification
        Of the same record.
    form : str
        One of `FORMS`.
    units : str
        "si", "us"; the job's own when empty.

    Raises
    ------
    RecordError
        If the record cannot be read.
    ConfigError
        If a library is not installed.
    """
    return _Reporting(record, checked, units).made(form)


class _Reporting:
    """A record computed again, of which a report is made in either form."""

    def __init__(self, record: RecordReader, checked: Verification, units: str = "") -> None:
        self._trace = Trace()
        self._session = rescore(record, self._trace)
        self._system = UnitSystem(units or self._session.job.units or UnitSystem.SI)
        self._content = with_texts(report_of(self._session, checked, self._system), inert)

    def made(self, form: str) -> bytes:
        """Return the report in one of `FORMS`."""
        if form == ".pdf":
            from chargeassist.qa.report_pdf import pdf

            return pdf(self._content, self._drawn("png"))
        return html(self._content, self._drawn("svg")).encode()

    def _drawn(self, form: str) -> list[Picture]:
        return pictures(self._session, self._trace, self._system, form)


def write_report(
    source: Path, target: Path, units: str = "", known: Sequence[KnownKey] = ()
) -> None:
    """Write the report of the record at `source` to the new file `target`.

    Parameters
    ----------
    source, target : Path
    units : str
        As for `make_report`.
    known : sequence of KnownKey
        Keys whose owners are known, so that it can say whose the signature is.

    Raises
    ------
    ConfigError
        If the file exists, its ending is none of `FORMS`, or a library is not installed.
    RecordError
        If the record cannot be read or the file not be written.
    """
    if target.suffix not in FORMS:
        raise ConfigError(f"{target}: expected a name that ends in {' or '.join(FORMS)}")
    if target.exists():
        raise ConfigError(f"{target}: already exists; choose another name")
    checked = verify(source, known)
    with open_record(source) as record:
        data = make_report(record, checked, target.suffix, units)
    try:
        write_whole(target, data, new=True)
    except OSError as exc:
        raise RecordError(f"{target}: cannot be written ({exc.strerror or exc})") from exc


def report_files(record: SessionReader | PackageReader) -> list[Attachment]:
    """Return both forms of the report of `record`, to be sealed into an archive.

    Raises
    ------
    RecordError
        If the record cannot be read.
    ConfigError
        If a library is not installed.
    """
    kinds = {".html": "text/html", ".pdf": "application/pdf"}
    reporting = _Reporting(record, verify_opened(record))
    return [
        Attachment(
            name=f"report-{form[1:]}",
            path=f"report{form}",
            data=reporting.made(form),
            properties={
                "title": "The report for customer and warranty desk",
                "format": form[1:],
                "mediatype": media,
            },
        )
        for form, media in kinds.items()
    ]


@dataclass(frozen=True, slots=True)
class _Shown:
    title: str
    words: str
    base64: str


def html(report: Report, drawn: list[Picture]) -> str:
    """Return the page: every text escaped, pictures inside, nothing fetched from anywhere."""
    with extra("qa", "a report"):
        from jinja2 import Environment, StrictUndefined
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    text = (files("chargeassist") / "data" / "report.html.j2").read_text(encoding="utf-8")
    shown = [_Shown(p.title, p.words, base64.b64encode(p.data).decode()) for p in drawn]
    page: str = environment.from_string(text).render(report=report, pictures=shown)
    return page + "\n"
