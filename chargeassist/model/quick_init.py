"""An ``__init__`` for frozen data classes that takes about half the time of the usual one.

The one that `dataclasses` writes for a frozen class sets each field with ``object.__setattr__``,
which looks the field up by name. In a class with slots every field has a descriptor; the one
written here calls those. It is meant for classes that are made with every reading or every tick;
everything else about them stays as `dataclasses` makes it.
"""

from dataclasses import MISSING, Field, fields
from typing import Any, TypeVar

_T = TypeVar("_T")


def quick_init(cls: type[_T]) -> type[_T]:
    """Give a frozen data class with slots its quicker ``__init__``; a class decorator.

    Raises
    ------
    TypeError
        If the class has no slots, or a field that ``__init__`` does not set.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> @quick_init
    ... @dataclass(frozen=True, slots=True, kw_only=True)
    ... class Point:
    ...     x: float
    ...     y: float = 0.0
    >>> Point(x=1.0)
    Point(x=1.0, y=0.0)
    """
    known: dict[str, Any] = {"_missing": MISSING}
    by_position: list[str] = []
    by_name: list[str] = []
    body: list[str] = []
    for each in fields(cls):  # type: ignore[arg-type]
        name = each.name
        if not each.init or not hasattr(cls.__dict__.get(name), "__set__"):
            raise TypeError(f"{cls.__name__}.{name}: expected a field with a slot, set by __init__")
        known[f"_set_{name}"] = cls.__dict__[name].__set__
        (by_name if each.kw_only else by_position).append(_parameter(each, known))
        value = name
        if each.default_factory is not MISSING:
            value = f"_make_{name}() if {name} is _missing else {name}"
        body.append(f"    _set_{name}(self, {value})")
    if hasattr(cls, "__post_init__"):
        body.append("    self.__post_init__()")
    parameters = ["self", *by_position, *(["*", *by_name] if by_name else [])]
    source = "\n".join([f"def __init__({', '.join(parameters)}):", *body])
    exec(source, known)  # made of names of fields alone, as `dataclasses` does it
    init = known["__init__"]
    init.__qualname__ = f"{cls.__qualname__}.__init__"
    init.__module__ = cls.__module__
    init.__annotations__ = cls.__init__.__annotations__
    cls.__init__ = init  # type: ignore[method-assign]
    return cls


def _parameter(each: "Field[Any]", known: dict[str, Any]) -> str:
    """Return a parameter as source text; its default is put into `known`."""
    if each.default_factory is not MISSING:
        known[f"_make_{each.name}"] = each.default_factory
        return f"{each.name}=_missing"
    if each.default is not MISSING:
        known[f"_default_{each.name}"] = each.default
        return f"{each.name}=_default_{each.name}"
    return each.name
