"""Every help page shows examples that can be typed, and says the exit codes."""

import argparse
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from chargeassist.cli.command_line import build_parser
from chargeassist.cli.drill import result_path
from chargeassist.cli.main import main
from chargeassist.trainer.calls import FIXES
from chargeassist.trainer.result import Result


def pages(
    parser: argparse.ArgumentParser, words: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], argparse.ArgumentParser]]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, inner in action.choices.items():
                yield from pages(inner, (*words, name))
            return
    yield words, parser


PAGES = [pytest.param(words, page, id=" ".join(words)) for words, page in pages(build_parser())]


@pytest.mark.parametrize(("words", "page"), PAGES)
def test_a_page_has_examples_that_parse_and_exit_codes(
    words: tuple[str, ...], page: argparse.ArgumentParser
) -> None:
    text = page.format_help()
    assert "exit codes:\n  0: done\n" in text
    assert "  2: the command line" in text
    epilog = page.epilog or ""
    examples = [
        line.strip().removeprefix("chargeassist ")
        for line in epilog.splitlines()
        if line.startswith("  chargeassist ")
    ]
    assert examples, f"no example for {' '.join(words)}"
    for example in examples:
        typed = shlex.split(example.partition(" > ")[0].partition(" < ")[0])
        assert tuple(typed[: len(words)]) == words
        arguments = build_parser().parse_args(typed)
        module, _, function = arguments.handler.partition(":")
        assert callable(getattr(__import__(module, fromlist=[function]), function))


@pytest.mark.parametrize("word", ["fleet", "job"])
def test_a_page_of_parts_says_where_examples_and_exit_codes_are(
    word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main([word, "--help"])
    assert (
        f"chargeassist {word} PART --help has examples and exit codes." in capsys.readouterr().out
    )


def test_the_first_page_says_where_to_begin_and_names_every_command_once() -> None:
    text = build_parser().format_help()
    assert all(len(line) < 80 for line in text.splitlines())
    begin = text.partition("to begin with:\n")[2].partition("\n\n")[0].splitlines()
    for line in begin:
        typed = shlex.split(line.split("  ")[1])
        assert typed[0] == "chargeassist"
        build_parser().parse_args(typed[1:])
    names = {words[0] for words, _ in pages(build_parser())}
    rows = text.partition("the job:\n")[2].splitlines()
    told = [line.split()[0] for line in rows if line.startswith("  ") and line[2] != " "]
    assert sorted(told) == sorted(names)


def test_the_help_of_a_part_stands_beside_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["fleet", "--help"])
    row = next(line for line in capsys.readouterr().out.splitlines() if "recompute " in line)
    assert "score every session" in row


def test_the_page_itself_ends_with_0(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main(["verify", "--help"])
    assert end.value.code == 0
    assert "chargeassist verify job-417.zip" in capsys.readouterr().out


def test_a_drill_names_every_cause_that_can_be_called() -> None:
    page = dict(pages(build_parser()))[("drill",)]
    assert f"CAUSE is one of: {', '.join(FIXES)}." in " ".join((page.description or "").split())


def test_a_trainees_letters_stay_in_the_name_of_the_result(tmp_path: Path) -> None:
    result = Result(exercise="radio-gap", title="", truth="plant", trainee="Bänk 1/Süd")
    assert "-bänk-1-süd-" in result_path(tmp_path, result).name


def test_a_name_of_any_length_makes_a_name_of_a_file(tmp_path: Path) -> None:
    """Most systems take 255 bytes; a letter may have four."""
    result = Result(exercise="radio-gap", title="", truth="plant", trainee="\U00020000" * 500)
    result_path(tmp_path, result).write_text("", encoding="utf-8")
