"""The whole command line: its parser, and one command run with what the shell gets back."""

import argparse
import contextlib
import io
import os
import re
import sys
from collections.abc import Sequence
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from typing import Any, NoReturn

from chargeassist.cli import (
    archive,
    audit,
    bench_commands,
    completion,
    exchange,
    fleet,
    job,
    serve,
    session_commands,
)
from chargeassist.cli.arguments import expect_places
from chargeassist.cli.as_json import print_error, print_json
from chargeassist.cli.front_page import front_page
from chargeassist.cli.plain_output import (
    OutputError,
    complain,
    open_closed_streams,
    plain_output,
)
from chargeassist.model.build import software
from chargeassist.model.errors import ChargeAssistError, UnitError
from chargeassist.model.text import plain, without_credentials
from chargeassist.model.units import Quantity, find_unit

_ADDRESS = re.compile(r"[a-z][a-z0-9+.-]*://.*@")


def run_command(argv: Sequence[str]) -> int:
    """Run the command that `argv` is, and return its exit code.

    Parameters
    ----------
    argv : sequence of str
        Without the program's name.
    """
    open_closed_streams()
    if isinstance(sys.stdout, io.TextIOWrapper):
        # What a device sends is printed; a terminal that lacks a letter must not end a session.
        sys.stdout.reconfigure(errors="replace")
    arguments = argparse.Namespace()
    try:
        with plain_output():
            arguments = _parsed(argv)
            code = run(arguments)
            sys.stdout.flush()
    except ChargeAssistError as error:
        text = _without_passwords(str(error), argv)
        complain(f"chargeassist: {text}")
        print_error(arguments, text)
        return 2
    except KeyboardInterrupt:
        print("chargeassist: interrupted", file=sys.stderr)
        return 130
    except BrokenPipeError:
        return _nobody_reads()
    except ExceptionGroup as group:
        # Of a session that printed: its tasks end together.
        written, other = group.split((BrokenPipeError, OutputError))
        if other is not None or written is None:
            raise
        if written.subgroup(OutputError) is not None:
            complain("chargeassist: standard output cannot be written")
        return _nobody_reads()
    except OutputError as error:
        complain(f"chargeassist: {error}")
        _let_go_of_output()
        return 1
    except OSError as error:
        if error.filename is None:
            raise
        # A name too long, a folder that may not be looked into: each command may be given one.
        name = _without_passwords(str(error.filename), argv)
        text = f"{plain(name, 200)}: {error.strerror}"
        complain(f"chargeassist: {text}")
        print_error(arguments, text)
        return 2
    return code


def _parsed(argv: Sequence[str]) -> argparse.Namespace:
    try:
        return build_parser().parse_args(argv)
    except UsageError as error:
        if _asks_for_json(argv):
            print_json({"error": error.text}, one_line=True)
        raise
    finally:
        sys.stdout.flush()  # of a page of help, while it can still be told that nobody reads it


def _without_passwords(text: str, argv: Sequence[str]) -> str:
    """Return a message that names what was typed, but of an address in a file's place no password.

    A path drops a slash of it, and a folder its end; a message may name any of them.
    """
    for word in argv:
        if _ADDRESS.match(word):
            for said in (word, str(Path(word)), str(Path(word).parent)):
                text = text.replace(said, without_credentials(said))
    return text


def _asks_for_json(argv: Sequence[str]) -> bool:
    """Return whether a command line that could not be parsed asks for JSON on standard output."""
    if argv[:1] == ["debrief"]:  # of which --json is a file's name
        return "--json=-" in argv or ("--json", "-") in pairwise(argv)
    if argv[:1] == ["audit"] or argv[:1] == ["fleet"]:
        asked = "--format=json" in argv or ("--format", "json") in pairwise(argv)
        return asked and not any(word.partition("=")[0] == "--out" for word in argv)
    return "--json" in argv


def _nobody_reads() -> int:
    """Let go of what Python still holds for a reader of our output that has gone; return 1."""
    _let_go_of_output()
    return 1


def _let_go_of_output() -> None:
    """Let what cannot be written go nowhere, so that Python does not try again at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def run(arguments: argparse.Namespace) -> int:
    """Run the command of parsed `arguments`; imports only that command's modules."""
    expect_places(arguments)
    module, _, function = arguments.handler.partition(":")
    code: int = getattr(import_module(module), function)(arguments)
    return code


class UsageError(SystemExit):
    """A command line that cannot be used; it has been told on standard error already.

    Attributes
    ----------
    text : str
        What is wrong with it.
    """

    def __init__(self, text: str) -> None:
        super().__init__(2)
        self.text = text


class _Parser(argparse.ArgumentParser):
    """A parser that takes "-5psig" and "-10°C" for amounts, as it takes "-5"."""

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - as argparse has them
        super().__init__(**settings)
        self._negative_number_matcher = re.compile(r"-\.?\d")

    def _print_message(self, message: str, file: Any = None) -> None:  # noqa: ANN401 - as there
        """Write a page of help, which argparse does not miss where it could not be written."""
        (sys.stderr if file is None else file).write(message)

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and leave; of a unit that stands alone, how it is written."""
        left_over = message.partition("unrecognized arguments: ")[2].split()
        if any(_is_unit(word) for word in left_over):
            message += '; a number and its unit are one word: 248psig, or "248 psig"'
        try:
            super().error(message)
        except SystemExit:
            raise UsageError(message) from None


def _is_unit(word: str) -> bool:
    if word.isdigit():  # the 1 of "--port 1", which fractions have for a unit
        return False
    for quantity in Quantity:
        with contextlib.suppress(UnitError):
            find_unit(word, quantity)
            return True
    return False


class _FrontParser(_Parser):
    """The parser of the program itself: its help is a page of its own, by who asks for what."""

    def format_help(self) -> str:
        """Return usage, and what to begin with."""
        told = {
            choice.dest: choice.help or ""
            for action in self._actions
            if isinstance(action, argparse._SubParsersAction)  # noqa: SLF001
            for choice in action._choices_actions  # noqa: SLF001 - their help is nowhere else
        }
        return f"{self.format_usage()}\n{front_page(self.description or '', told)}\n"


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = _FrontParser(
        prog="chargeassist",
        description="Watch live subcooling, know when it has settled, charge in steps, "
        "keep the record.",
    )
    parser.add_argument("--version", action="version", version=software())
    commands = parser.add_subparsers(
        dest="command", required=True, metavar="COMMAND", parser_class=_Parser
    )
    for room in (
        session_commands,
        serve,
        job,
        bench_commands,
        archive,
        audit,
        exchange,
        fleet,
        completion,
    ):
        room.add_commands(commands)
    parser.set_defaults(whole=parser)  # for the commands that look at the others
    return parser
