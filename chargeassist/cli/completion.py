"""``completion``: the script that lets a shell complete commands, options and files."""

import argparse
from pathlib import Path

from chargeassist.cli.arguments import Commands, command

SHELLS = ("bash", "zsh", "fish", "tcsh", "powershell")
_NAMES_FILES = ("FILE", "RECORD", "FOLDER", ".toml", "SCENARIO", "ADDRESS", "COMMAND")


def add_commands(commands: Commands) -> None:
    """Add the parser of this command."""
    parser = command(
        commands,
        "completion",
        handler="chargeassist.cli.completion:completion",
        help="print a shell completion script for this program",
        examples=(
            "completion bash > ~/.local/share/bash-completion/completions/chargeassist",
            "completion fish > ~/.config/fish/completions/chargeassist.fish",
            "completion zsh > ~/.zfunc/_chargeassist",
        ),
    )
    parser.add_argument("shell", choices=SHELLS)


def completion(arguments: argparse.Namespace) -> int:
    """Print the script for one shell."""
    import shtab

    _mark_files(arguments.whole, shtab.FILE)
    print(shtab.complete(arguments.whole, shell=arguments.shell))
    return 0


def _mark_files(parser: argparse.ArgumentParser, files: object) -> None:
    """Let every argument that names a file be completed with files."""
    for action in parser._actions:  # noqa: SLF001 - argparse has no other way to them
        if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001
            for inner in action.choices.values():
                _mark_files(inner, files)
        elif action.type is Path or any(word in str(action.metavar or "") for word in _NAMES_FILES):
            action.complete = files  # type: ignore[attr-defined]
