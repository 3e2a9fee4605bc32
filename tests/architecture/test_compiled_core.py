"""The modules that an install compiles where it is asked to; nothing is compiled here.

`tests/benchmarks/compiled.py` builds the wheel and compares its verdicts with those of the sources.
"""

import ast
import tomllib
from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
WHEEL = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"][
    "build"
]["targets"]["wheel"]
SOURCES = [
    path.relative_to(ROOT).as_posix()
    for folder in ("chargeassist", "adapters")
    for path in sorted((ROOT / folder).rglob("*.py"))
]
COMPILED = [path.removeprefix("/") for path in WHEEL["hooks"]["mypyc"]["include"]]


def test_an_install_compiles_nothing_that_nobody_asked_for() -> None:
    assert WHEEL["hooks"]["mypyc"]["enable-by-default"] is False


def test_no_compiled_module_hides_its_source() -> None:
    """An install that compiles leaves its work in this folder unless told to clean up."""
    left = [
        path
        for package in (ROOT / "chargeassist", ROOT / "adapters")
        for path in package.rglob("*")
        if path.name.endswith(tuple(EXTENSION_SUFFIXES))
    ]
    assert not left, f"delete them: Python takes them instead of the sources: {left}"


def classes_of(path: str) -> list[ast.ClassDef]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return [node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]


def test_nothing_that_is_not_compiled_derives_from_what_is() -> None:
    """Python refuses it, and only when the first object of the class is made."""
    compiled = {each.name for path in COMPILED for each in classes_of(path)}
    for path in sorted(set(SOURCES) - set(COMPILED)):
        for each in classes_of(path):
            parents = {base.id for base in each.bases if isinstance(base, ast.Name)}
            assert not parents & compiled, f"{path}: {each.name}: to be compiled, too"


def test_no_test_derives_from_what_is_compiled_or_replaces_a_part_of_it() -> None:
    """It would fail on that install: compiled code calls compiled code past what was replaced."""
    compiled = {each.name for path in COMPILED for each in classes_of(path)}
    for path in sorted((ROOT / "tests").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            match node:
                case ast.ClassDef(bases=touched):
                    pass
                case ast.Call(func=ast.Attribute(attr="setattr"), args=[touched_one, *_]):
                    touched = [touched_one]
                case _:
                    continue
            names = {each.id for each in touched if isinstance(each, ast.Name)}
            assert not names & compiled, f"{path.name}:{node.lineno}"


@pytest.mark.parametrize("path", COMPILED)
def test_a_compiled_module_avoids_what_a_compiler_takes_otherwise(path: str) -> None:
    for node in ast.walk(ast.parse((ROOT / path).read_text(encoding="utf-8"))):
        match node:
            case ast.AnnAssign(
                annotation=ast.Name(id="Final"),
                value=ast.Tuple(elts=[ast.Constant(value=float()) | ast.UnaryOp(), *_]),
            ):
                pytest.fail(f"{path}:{node.lineno}: to mypyc never set: Final[tuple[float, ...]]")
            case ast.Call(func=ast.Name(id="sum"), args=[ast.GeneratorExp(), *_]):
                pytest.fail(f"{path}:{node.lineno}: mypyc adds otherwise than Python 3.12: a list")
            case ast.BinOp(op=ast.Sub(), right=ast.Call(func=ast.Attribute(attr="keys"))):
                pytest.fail(f"{path}:{node.lineno}: a set, though mypy expects a frozenset")
            case _:
                pass
