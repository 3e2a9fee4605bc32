"""Answers for scripts: dataclasses, enumerations and paths as JSON on standard output."""

import json
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import PurePath


def print_json(answer: object, *, one_line: bool = False) -> None:
    """Print `answer` as JSON.

    Parameters
    ----------
    answer : object
        Anything of dicts, sequences, dataclasses, enumerations, paths, strings and numbers.
    one_line : bool
        For answers that arrive one after another: one object a line, nothing held back.
    """
    print(
        json.dumps(_plain(answer), ensure_ascii=False, indent=None if one_line else 2),
        flush=one_line,
    )


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
    return answer
