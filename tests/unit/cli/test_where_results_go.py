"""One rule for every command: it makes what it is told to write, never the folder above that."""

import argparse
from collections.abc import Iterator
from pathlib import Path

import pytest

from chargeassist.cli.command_line import build_parser
from chargeassist.cli.main import main

RECORDING = str(Path(__file__).resolve().parents[3] / "recordings" / "millrace-lane-library")

COMMANDS = [
    ["archive", RECORDING, "--to", "{}.zip"],
    ["archive", RECORDING, "--to", "{}"],
    ["audit", RECORDING, "--out", "{}.csv"],
    ["debrief", RECORDING, "--csv", "{}.csv"],
    ["debrief", RECORDING, "--json", "{}.json"],
    ["debrief", RECORDING, "--picture", "{}.svg"],
    ["demo", "--lines", "--speed", "max", "--record", "{}.session"],
    ["drill", "clean-charge", "--calls", "calls.txt", "--out", "{}.json"],
    ["drill", "clean-charge", "--calls", "calls.txt", "--out", "{}"],
    ["drill", "clean-charge", "--calls", "calls.txt", "--record", "{}.session"],
    ["export", RECORDING, "--to", "{}.csv"],
    ["fleet", "add", RECORDING, "--to", "{}"],
    ["fleet", "recompute", RECORDING, "--to", "{}.jsonl"],
    ["import", "log.csv", "--map", "map.toml", "--to", "{}"],
    ["job", "new", "{}.toml"],
    ["live", "simulator:clean-charge", "--lines", "--record", "{}"],
    ["live", "simulator:clean-charge", "--lines", "--record", "{}.session"],
    ["report", RECORDING, "--to", "{}.html"],
    ["simulate", "clean-charge", "--out", "{}"],
    ["simulate", "clean-charge", "--picture", "{}.svg"],
    ["simulate", "--pictures", "{}"],
]


def options(parser: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.Action]]:
    """Yield each argument of each command, with the command's name."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for part in action.choices.values():
                yield from options(part)
        else:
            yield parser.prog.removeprefix("chargeassist "), action


def writes(parser: argparse.ArgumentParser) -> Iterator[tuple[str, str]]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for part in action.choices.values():
                yield from writes(part)
    for name in parser.get_default("writes") or ():
        yield parser.prog.removeprefix("chargeassist "), name


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(command[:4:2]))
def test_a_folder_that_is_missing_is_refused_before_the_work(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "nowhere" / "deep" / "result"
    assert main([part.replace("{}", str(place)) for part in command]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "expected a name in a folder that is there; there is no folder " in err
    assert str(place.parent) in err
    assert list(tmp_path.iterdir()) == []


def test_every_argument_that_names_a_result_is_among_these() -> None:
    registered = set(writes(build_parser()))
    results = {"--to", "--out", "--record", "--csv", "--picture", "--pictures"}
    named = {
        (command, action.dest)
        for command, action in options(build_parser())
        if results & set(action.option_strings)
        or ("--json" in action.option_strings and action.type is Path)
    }
    assert registered == named | {("job new", "file")}
    tried = {
        (command[0] if command[0] not in {"fleet", "job"} else " ".join(command[:2]), part[2:])
        for command in COMMANDS
        for part in command
        if part in results | {"--json"}
    }
    assert named - tried == set()


def test_the_folder_that_is_named_is_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    calls = tmp_path / "calls.txt"
    calls.write_text("3:00 stop\n", encoding="utf-8")
    argv = ["drill", "clean-charge", "--calls", str(calls)]
    argv += ["--record", str(tmp_path / "records"), "--out", str(tmp_path / "results")]
    assert main(argv) == 0
    assert len(list((tmp_path / "records").glob("*.session"))) == 1
    assert len(list((tmp_path / "results").glob("*.drill.json"))) == 1
    assert main(["archive", RECORDING, "--to", str(tmp_path / "archive")]) == 0
    assert (tmp_path / "archive" / "datapackage.json").is_file()
    capsys.readouterr()


def test_a_name_alone_is_in_the_folder_one_is_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["archive", RECORDING, "--to", "one.zip"]) == 0
    assert (tmp_path / "one.zip").is_file()
