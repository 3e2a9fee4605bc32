"""The texts of a report's content, changed one by one; what holds them keeps its shape."""

from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from typing import Any


def with_texts(content: Any, change: Callable[[str], str]) -> Any:  # noqa: ANN401
    """Return `content`, a tree of dataclasses and tuples, with `change` of each text in it."""
    if isinstance(content, str):
        return change(content)
    if isinstance(content, tuple | list):
        return type(content)(with_texts(item, change) for item in content)
    if is_dataclass(content) and not isinstance(content, type):
        changed = {f.name: with_texts(getattr(content, f.name), change) for f in fields(content)}
        return replace(content, **changed)
    return content
