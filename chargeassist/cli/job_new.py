"""``job new``: questions on standard error, answers from standard input, a job file at the end."""

import io
import sys
from pathlib import Path

from chargeassist.cli.job_check import check
from chargeassist.cli.paragraphs import indented
from chargeassist.model.errors import ConfigError
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.job.questions import Question, next_question, questions
from chargeassist.session.job.toml_table import toml_of
from chargeassist.session.job.tree import (
    COMMENTS,
    SOURCE_COMMENT,
    refusal,
    toml_of_answers,
    tree_of,
)
from chargeassist.session.whole_file import write_whole

_BACK, _SKIP = "b", "s"
_INTRO = (
    "Enter skips what may be left out, s all of the rest of its table; b goes back one question; "
    "Ctrl-C leaves and writes nothing. Numbers with their unit, as the trade writes them."
)


def new(path: Path) -> int:
    """Ask for a job, write it to `path`, and check it.

    Raises
    ------
    ConfigError
        If the answers end too early, or the file cannot be written.
    """
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="surrogateescape")  # refused by name, not by a traceback
    try:
        replace = _may_write(path)
        _say(indented(_INTRO, ""))
        answers = _asked(str(path))
        text = toml_of_answers(answers, {q.key: q.example for q in questions(answers, str(path))})
        parse_job(text, str(path))
        if held_by(text, str(path)) != tree_of(answers):
            raise ConfigError(f"{path}: what would be written is not what was answered")
        path = _written(path, text, replace=replace)
    except KeyboardInterrupt:
        _say("\nnothing was written")
        raise
    _say(f"\nwritten: {path}\n")
    check(path)
    return 0


def held_by(text: str, where: str) -> dict[str, object]:
    """Return what the job file `text` holds; a table all of whose keys were skipped is none."""
    data = toml_of(text, where).data
    return {key: value for key, value in data.items() if value != {}}


def _asked(path: str) -> dict[str, str]:
    answers: dict[str, str] = {}
    section = ""
    while (question := next_question(answers, path)) is not None:
        table = question.key.partition(".")[0] if "." in question.key else ""
        if table and table != section:
            heading = f"[{table}] {COMMENTS.get(table, SOURCE_COMMENT)}"
            _say(f"\n{indented(heading, '')}")
            section = table
        text = _answer(_prompt(question), question.key)
        if text == _BACK:
            if answers:
                answers.popitem()
            else:
                _say("   this is the first question")
            continue
        if text == _SKIP:
            _skip_table(question, answers, path)
            continue
        error = objection(question, text, answers, path)
        if error:
            _say(indented(error))
            continue
        answers[question.key] = text or question.default
    return answers


def _skip_table(question: Question, answers: dict[str, str], path: str) -> None:
    """Leave out what may be left out, up to the next table or to what is needed."""
    table = _table_of(question)
    following: Question | None = question
    while following is not None and not following.needed and _table_of(following) == table:
        if objection(following, "", answers, path):
            break
        answers[following.key] = following.default
        following = next_question(answers, path)
    if following is question:
        _say(indented(objection(question, "", answers, path)))


def _table_of(question: Question) -> str:
    parts = question.key.split(".")
    return ".".join(parts[:2]) if parts[0] == "source" else ".".join(parts[:-1])


def objection(question: Question, text: str, answers: dict[str, str], path: str = "") -> str:
    """Return why `text` cannot be the answer to `question`; empty when it can.

    Parameters
    ----------
    question : Question
    text : str
    answers : dict of str to str
        Those given before.
    path : str
        Of the job file to be written.
    """
    if not text and question.needed:
        if question.key in ("target.subcooling", "target.superheat"):
            return f"a target is never filled in: read it; where: {question.where}"
        return "this cannot be left out"
    text = text or question.default
    if text and question.choices and text not in question.choices:
        return f"expected one of {', '.join(question.choices)}"
    if question.key.endswith(".url"):
        adapter = answers[question.key.replace(".url", ".adapter")]
        known = ("mqtt:", "mqtts:") if adapter == "mqtt" else (f"{adapter}:",)
        if not text.startswith(known):
            return f"expected an address such as {question.example}"
    return refusal({**answers, question.key: text}, path)


def _prompt(question: Question) -> str:
    hints = [f"such as {question.example}"]
    if question.choices:
        hints = [" | ".join(question.choices)]
    if question.where:
        hints.append(f"where: {question.where}")
    if question.default:
        hints.append(f"Enter: {question.default}")
    elif not question.needed and "Enter:" not in question.ask:
        hints.append("Enter skips")
    return f"\n{indented(question.ask, '')}\n{indented('; '.join(hints))}\n{question.key}> "


def _answer(prompt: str, key: str) -> str:
    print(prompt, end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line:
        _say("")  # what is told does not stand behind the question
        raise ConfigError(f"job new: the answers ended at {key}; nothing was written")
    return line.strip()


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _may_write(path: Path) -> bool:
    """Return whether the file at `path` is to be replaced; asked before the work, not after it."""
    if path.is_dir():
        raise ConfigError(f"{path}: expected the name of a file, got a folder")
    if not path.exists():
        return False
    answer = _answer(f"{path} already exists. Replace it? yes | no\n> ", str(path))
    if answer.lower() not in ("yes", "y"):
        raise ConfigError(f"{path}: already exists and was left as it is; give another name")
    return True


def _written(path: Path, text: str, *, replace: bool) -> Path:
    """Write the file whole or not at all; where it cannot be written, ask for another name."""
    while True:
        try:
            write_whole(path, text.encode(), new=not replace)
        except OSError as error:
            _say(f"{path}: cannot be written: {error.strerror}")
            path, replace = Path(_answer("Another name> ", str(path))), False
        else:
            return path
