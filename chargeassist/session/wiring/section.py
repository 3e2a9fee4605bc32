"""Chosen fields as ``[[source]]`` tables of a job file; nothing that stands in a file is replaced.

What is written is read back by the reader of job files and made into sources by the adapters before
anybody is offered to keep it.
"""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import SourceSpec
from chargeassist.session.job.errors import errors_of
from chargeassist.session.job.probes import read_sources
from chargeassist.session.job.toml_table import file_text, toml_of
from chargeassist.session.job.tree import toml_value
from chargeassist.session.listening import Form
from chargeassist.session.plugins import make_source
from chargeassist.session.whole_file import expect_folder, write_whole
from chargeassist.session.wiring.arrived import Choice

_WHERE = "the section"


def section_of(choices: Sequence[Choice], alone: Iterable[str] = ()) -> str:
    """Return the tables of a job file that read `choices`.

    Parameters
    ----------
    choices : sequence of Choice
        Those of one address and form become one source.
    alone : iterable of str
        Addresses that name their own probes.
    """
    groups: dict[tuple[str, Form], list[Choice]] = {}
    for choice in choices:
        groups.setdefault((choice.url, choice.form), []).append(choice)
    blocks = [["[[source]]", f"url = {toml_value(url)}"] for url in dict.fromkeys(alone)]
    blocks += [list(_source(url, form, of)) for (url, form), of in groups.items()]
    return "\n\n".join("\n".join(lines) for lines in blocks) + "\n"


def _source(url: str, form: Form, choices: Iterable[Choice]) -> Iterator[str]:
    yield "[[source]]"
    yield f"url = {toml_value(url)}"
    if form.format != "number":
        yield f"format = {toml_value(form.format)}"
    if form.options:
        yield ""
        yield "[source.options]"
        yield from (f"{name} = {toml_value(value)}" for name, value in form.options)
    for choice in choices:
        yield ""
        yield "[[source.probe]]"
        yield f"role = {toml_value(choice.role.value)}"
        if choice.place.topic:
            yield f"topic = {toml_value(choice.place.topic)}"
        if choice.place.select:
            yield f"select = {toml_value(choice.place.select)}"
        if choice.scale != 1.0:
            yield f"scale = {toml_value(choice.scale)}"
        yield f"unit = {toml_value(choice.unit)}"
        if choice.accuracy:
            yield f"accuracy = {toml_value(choice.accuracy)}"


def read_section(section: str, base: Path) -> tuple[SourceSpec, ...]:
    """Return what a job file with this section reads, each source accepted by its adapter.

    Raises
    ------
    ChargeAssistError
        As of a job file.
    """
    specs = read_sources(toml_of(section, _WHERE))
    for spec in specs:
        make_source(spec, base)
    return specs


def check_choice(choice: Choice, others: Sequence[Choice], base: Path) -> None:
    """Refuse a choice that no job file could hold beside `others`.

    Raises
    ------
    ChargeAssistError
        With what was expected, of the one key that is wrong where there is one.
    """
    try:
        read_section(section_of([*others, choice]), base)
    except ConfigError as error:
        raise ConfigError(str(error).removeprefix(f"{_WHERE}: ")) from error


def added_to(text: str, section: str, where: str) -> str:
    """Return the job file `text` with the section behind it.

    Raises
    ------
    ConfigError
        If that makes an error that was not there before. What else the file lacks is no matter
        here: `job check` names it.
    """
    before = set(errors_of(toml_of(text, where)))
    added = f"{text.rstrip()}\n\n{section}" if text.strip() else section
    wrong = [error for error in errors_of(toml_of(added, where)) if error not in before]
    if wrong:
        raise ConfigError("; ".join(wrong))
    return added


def append(path: Path, section: str) -> None:
    """Write the section behind what stands in the job file; whole or not at all.

    Raises
    ------
    ConfigError
        If the file cannot be read or written, or would be wrong then.
    """
    path = path.resolve()  # a link stays one
    text = file_text(path, "a job file")
    line_end = "\r\n" if "\r\n" in text else "\n"
    added = added_to(text.replace("\r\n", "\n"), section, str(path))
    try:
        write_whole(path, added.replace("\n", line_end).encode())
    except OSError as error:
        raise ConfigError(f"{path}: cannot be written: {error.strerror}") from error


def save(path: Path, section: str) -> None:
    """Write the section to a file that is not there yet.

    Raises
    ------
    ConfigError
    """
    expect_folder(path)
    try:
        write_whole(path, section.encode(), new=True)
    except FileExistsError as error:
        raise ConfigError(f"{path}: already exists and was left as it is") from error
    except OSError as error:
        raise ConfigError(f"{path}: cannot be written: {error.strerror}") from error
