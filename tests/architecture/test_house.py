"""The house rules, each by the tool that knows them; so one command checks everything."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = (ROOT / "chargeassist", ROOT / "adapters" / "chargeassist_adapters")
LONGEST_MODULE = 400


def modules() -> list[Path]:
    return sorted(path for package in PACKAGES for path in package.rglob("*.py"))


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    "words",
    [
        ("-m", "mypy"),
        ("-m", "ruff", "check", "."),
        ("-m", "ruff", "format", "--check", "."),
        ("-c", "from importlinter.cli import lint_imports_command as c; c()"),
    ],
    ids=["types", "lint", "format", "layers"],
)
def test_a_tool_has_nothing_to_say(words: tuple[str, ...]) -> None:
    done = run(sys.executable, *words)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_is_short_and_says_what_it_is(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST_MODULE
    assert ast.get_docstring(ast.parse(text)), "no module docstring"


IMPORTS = """
import sys
{statement}
for name in {forbidden!r}:
    assert name not in sys.modules, name
"""


@pytest.mark.parametrize(
    ("statement", "forbidden"),
    [
        ("import chargeassist", ("numpy", "textual", "CoolProp", "msgspec", "asyncio")),
        ("import chargeassist.model.job, chargeassist.model.units", ("numpy", "msgspec")),
        (
            "import chargeassist.guide.assistant",
            ("CoolProp", "textual", "asyncio", "sqlite3", "serial", "aiomqtt"),
        ),
        ("import chargeassist.session.opening", ("CoolProp", "textual", "serial", "aiomqtt")),
        (
            "from chargeassist.session.plugins import source_names; source_names()",
            ("chargeassist_adapters", "serial", "aiomqtt"),
        ),
        ("import chargeassist.cli.main", ("argparse", "dataclasses", "typing")),
        (
            "import chargeassist.cli.command_line",
            ("numpy", "textual", "CoolProp", "msgspec", "asyncio"),
        ),
    ],
)
def test_an_import_brings_no_more_than_it_needs(statement: str, forbidden: tuple[str, ...]) -> None:
    code = IMPORTS.format(statement=statement, forbidden=forbidden)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("layer", ["model", "physics", "plant", "stream", "guide"])
def test_below_session_there_is_no_clock_file_socket_or_screen(layer: str) -> None:
    forbidden = {
        "asyncio", "datetime", "io", "os", "pathlib", "select", "socket", "sqlite3", "ssl",
        "subprocess", "tempfile", "threading", "time",
    }  # fmt: skip
    # The shipped table is read from the package, and the builder is a tool, not the program.
    allowed = {"table.py", "build_tables.py"}
    for path in (ROOT / "chargeassist" / layer).rglob("*.py"):
        if path.name in allowed:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names: list[str] = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in {"open", "print", "input"}, f"{path}: {node.func.id}()"
            for name in names:
                assert name.partition(".")[0] not in forbidden, f"{path} imports {name}"


def test_the_words_this_program_does_not_use() -> None:
    banned = re.compile(r"\b((?<!thread-)safe|perfect|bleed|top off)\b", re.IGNORECASE)
    for path in [*modules(), *ROOT.glob("chargeassist/data/**/*.toml"), ROOT / "README.md"]:
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            assert not banned.search(line), f"{path.name}:{number}: {line.strip()}"


def test_the_build_and_the_readme_agree_with_the_ci_script() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "-e '.[dev]'" in script
    assert "-e '.[dev]'" in readme
    assert "-m pytest" in script
    assert "-m pytest" in readme


def test_every_command_is_in_the_readme_and_every_command_in_the_readme_exists() -> None:
    from chargeassist.cli.command_line import build_parser

    actions = [a for a in build_parser()._actions if a.dest == "command"]
    known = set(actions[0].choices or ())
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"chargeassist ([a-z]+)", readme))
    assert known <= named, f"not in README: {known - named}"
    commands_only = set(re.findall(r"^(?:\.venv/bin/)?chargeassist ([a-z]+)", readme, re.MULTILINE))
    assert commands_only <= known, f"README names what does not exist: {commands_only - known}"


def test_the_entry_points_name_classes_that_are_there() -> None:
    from chargeassist.session.plugins import source_class, source_names

    data = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    ours = set(data["project"]["entry-points"]["chargeassist.sources"])
    assert ours <= set(source_names()), "run pip install again: entry points are read on install"
    for name in ours:
        assert source_class(name).__module__.startswith("chargeassist_adapters.")


def test_no_path_of_a_developers_machine_is_in_the_tree() -> None:
    done = run("git", "ls-files")
    if done.returncode != 0:
        pytest.skip("not a git checkout")
    home = os.path.expanduser("~")  # noqa: PTH111
    for name in done.stdout.split():
        path = ROOT / name
        if path.suffix in {".py", ".md", ".toml", ".csv", ".txt"} and path.is_file():
            assert f"{home}/" not in path.read_text(encoding="utf-8", errors="replace"), name


def test_the_job_files_of_the_readme_can_be_used() -> None:
    from chargeassist.session.job.jobfile import parse_job
    from chargeassist.session.plugins import make_source

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.findall(r"```toml\n(.*?)```", readme, re.DOTALL)
    job_text, registers, overrides, conditions, superheat, performance, begins = found
    job = parse_job(job_text, "README.md")
    assert {source.scheme for source in job.sources} == {"serial", "mqtt"}
    top, table = conditions.split("\n\n", maxsplit=1)
    limited = parse_job(f"{top}\n{job_text}\n{table}", "README.md")
    assert limited.profile
    assert any("installation manual" in limit.source for limit in limited.limits)
    of_another_kind = re.sub(
        r"\[target\].*?(?=\[charge\])", superheat + "\n", job_text, flags=re.DOTALL
    )
    assert parse_job(of_another_kind, "README.md").target.method == "superheat"
    assert parse_job(f"{job_text}\n{performance}", "README.md").performance is not None
    begun = parse_job(f"{begins}\n{job_text}\n{overrides}", "README.md")
    assert begun.begins.value == "dryness"
    assert any(limit.source == "set in this job: house rule 7" for limit in begun.limits)
    line = parse_job(f"{job_text}\n{registers}", "README.md").sources[-1]
    assert [channel.role for channel in make_source(line, ROOT).channels] == ["vacuum"]
