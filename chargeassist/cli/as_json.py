"""Answers for scripts: dataclasses, enumerations and paths as JSON on standard output."""

import argparse
import json
import math
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import Path, PurePath

from chargeassist.cli.plain_output import complain
from chargeassist.model.text import storable


def print_json(answer: object, *, one_line: bool = False) -> None:
    """Print `answer` as JSON.

    Parameters
    ----------
    answer : object
        Anything of dicts, sequences, dataclasses, enumerations, paths, strings and numbers.
    one_line : bool
        For answers that arrive one after another: one object a line, nothing held back.
    """
    print(json_text(answer, one_line=one_line), flush=one_line)


def json_text(answer: object, *, one_line: bool = False) -> str:
    """Return `answer` as `print_json` prints it."""
    text = json.dumps(_plain(answer), ensure_ascii=False, indent=None if one_line else 2)
    return storable(text)


def print_error(arguments: argparse.Namespace, text: str, *more: str) -> None:
    """Print why there is no answer as ``{"error": text}``, where JSON was asked for.

    A script then finds one object a command whatever comes of it; the words also stand on standard
    error, as without ``--json``.

    Parameters
    ----------
    arguments : argparse.Namespace
        Of the command; ``json`` is a file's name where a command writes its answer there, "-" for
        standard output. Where ``answers_as`` is set, ``format`` says it, unless the answer goes to
        the file ``out``.
    text : str
    *more : str
        What else is wrong; then all of them also stand in ``errors``.
    """
    wanted = getattr(arguments, "json", False)
    if getattr(arguments, "answers_as", False):
        wanted = arguments.format == "json" and getattr(arguments, "out", None) is None
    if wanted is True or wanted == Path("-"):
        every = {"errors": [text, *more]} if more else {}
        print_json({"error": text, **every}, one_line=True)


def no_answer(arguments: argparse.Namespace, text: str) -> int:
    """Say in words, and as JSON where that was asked for, why there is no answer; return 1."""
    complain(text)
    print_error(arguments, text)
    return 1


def _plain(answer: object) -> object:
    if isinstance(answer, Enum):
        return _plain(answer.value)
    if is_dataclass(answer) and not isinstance(answer, type):
        return {field.name: _plain(getattr(answer, field.name)) for field in fields(answer)}
    if isinstance(answer, dict):
        return {str(_plain(key)): _plain(value) for key, value in answer.items()}
    if isinstance(answer, (list, tuple, set, frozenset)):
        return [_plain(item) for item in answer]
    if isinstance(answer, PurePath):
        return str(answer)
    if isinstance(answer, float) and not math.isfinite(answer):
        return None  # JSON has no word for it
    return answer
