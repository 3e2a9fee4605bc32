"""What the parsers of all commands share: how a command is added, and arguments many take.

Parsers are built whenever the program starts, so nothing heavy is imported here: a handler is
named as ``module:function`` and imported when it is its turn.
"""

import argparse
import math
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeAlias

from chargeassist.session.whole_file import expect_folder

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001
"""What parsers are added to."""

ALWAYS = "2: the command line, a file or an address cannot be used"


class PageFormatter(argparse.HelpFormatter):
    """Wraps paragraphs as usual and leaves indented lines, such as examples, as they are.

    The names of sub-commands stand beside their help: argparse reckons them two columns too short.
    """

    def add_argument(self, action: argparse.Action) -> None:
        """Take one argument."""
        super().add_argument(action)
        if isinstance(action, argparse._SubParsersAction) and action.help != argparse.SUPPRESS:  # noqa: SLF001
            longest = max(map(len, action.choices), default=0)
            indented = longest + self._current_indent + 2
            self._action_max_length = max(self._action_max_length, indented)

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        parts = [
            line if line.startswith(" ") else textwrap.fill(line, width)
            for line in text.splitlines()
        ]
        return textwrap.indent("\n".join(parts), indent)


def command(
    commands: Commands,
    name: str,
    *,
    handler: str,
    help: str,  # noqa: A002 - argparse's own word
    description: str = "",
    examples: Sequence[str] = (),
    fails: str = "",
) -> argparse.ArgumentParser:
    """Add a command and return its parser.

    Parameters
    ----------
    commands : argparse subparsers
    name : str
    handler : str
        ``module:function``, imported when the command runs; it takes the parsed arguments and
        returns the exit code.
    help, description : str
    examples : sequence of str
        Command lines without the program's name.
    fails : str
        When the exit code is 1; empty where the command never ends so.
    """
    page = []
    if examples:
        page += ["examples:", *(f"  chargeassist {example}" for example in examples), ""]
    page += ["exit codes:", "  0: done", *([f"  1: {fails}"] if fails else []), f"  {ALWAYS}"]
    parser = commands.add_parser(
        name,
        help=help,
        description=description or f"{help[0].upper()}{help[1:]}.",
        epilog="\n".join(page),
        formatter_class=PageFormatter,
    )
    parser.set_defaults(handler=handler)
    return parser


def add_place(
    parser: argparse.ArgumentParser,
    name: str,
    *,
    metavar: str,
    help: str | None = None,  # noqa: A002 - the word argparse has for it
    kind: Callable[[str], object] = Path,
    required: bool = False,
) -> None:
    """Add an option that names what a command makes; the folder it stands in has to be there."""
    place = parser.add_argument(name, type=kind, metavar=metavar, help=help, required=required)
    parser.set_defaults(writes=(*(parser.get_default("writes") or ()), place.dest))


def expect_places(arguments: argparse.Namespace) -> None:
    """Refuse places that nothing can be made in, before the work; see `expect_folder`."""
    for name in getattr(arguments, "writes", ()):
        place = getattr(arguments, name)
        if place is not None and "://" not in str(place):
            expect_folder(Path(place))


def add_json(parser: argparse.ArgumentParser) -> None:
    """Let a command answer in JSON."""
    parser.add_argument(
        "--json", action="store_true", help="for scripts: the same as JSON, quantities in SI units"
    )


def add_format(parser: argparse.ArgumentParser) -> None:
    """Let a command answer in a table, as CSV or as JSON; an error is then told in JSON too."""
    parser.add_argument("--format", choices=("table", "csv", "json"), default="table")
    parser.set_defaults(answers_as=True)


def add_units(parser: argparse.ArgumentParser) -> None:
    """Let a command be told its units."""
    parser.add_argument(
        "--units",
        choices=("si", "us"),
        default=None,
        help="°C, kPa, g or °F, psi, oz; otherwise as the job says, or as usual where you live",
    )


def add_session_arguments(parser: argparse.ArgumentParser, *, record: bool = True) -> None:
    """Add what every session on a screen or as lines takes."""
    parser.add_argument(
        "--lines", action="store_true", help="print lines even on a terminal, no dashboard"
    )
    parser.add_argument(
        "--speed",
        type=speed,
        default=None,
        metavar="N|max",
        help="session seconds per second, for simulators and recordings",
    )
    add_units(parser)
    parser.add_argument("--no-sound", action="store_true", help="no bell (key m turns it on)")
    if record:
        add_place(parser, "--record", metavar="FILE|FOLDER", help="where the session file goes")
        parser.add_argument(
            "--publish",
            metavar="mqtt://HOST/TOPIC",
            help="also publish values and verdicts there, for chargeassist watch",
        )


def add_station(parser: argparse.ArgumentParser) -> None:
    """Add where the station pressure of gauge readings comes from."""
    place = parser.add_mutually_exclusive_group()
    place.add_argument("--altitude", help="of the site, for gauge pressures: 210m, 690ft")
    place.add_argument("--barometer", help="station pressure, for gauge pressures: 98.8kPa")


def add_cores(parser: argparse.ArgumentParser) -> None:
    """Let work over many records be told how many cores it may use."""
    parser.add_argument("--cores", type=cores, default=0, metavar="N", help="default: all")


def cores(text: str) -> int:
    """Read a number of cores."""
    if not (text.isascii() and text.isdigit() and 1 <= len(text) <= 4 and int(text)):
        raise argparse.ArgumentTypeError(f"expected a whole number from 1, got {text!r}")
    return int(text)


def port(text: str) -> int:
    """Read the number of a port that can be listened at."""
    if not (text.isascii() and text.isdigit() and len(text) <= 5 and 0 < int(text) < 65536):
        raise argparse.ArgumentTypeError(f"expected a port from 1 to 65535, got {text!r}")
    return int(text)


def finite(text: str) -> float:
    """Read a number."""
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"expected a number, got {text!r}")
    return number


def above_zero(text: str) -> float:
    """Read a number above 0."""
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not 0.0 < number < float("inf"):
        raise argparse.ArgumentTypeError(f"expected a number above 0, got {text!r}")
    return number


def seed(text: str) -> int:
    """Read a seed of at most 17 digits."""
    if not (text.isascii() and text.isdigit() and len(text) <= 17):
        raise argparse.ArgumentTypeError(f"expected a whole number from 0, got {text!r}")
    return int(text)


def speed(text: str) -> float:
    """Read a speed; 0 stands for "max"."""
    if text == "max":
        return 0.0
    try:
        wanted = float(text)
    except ValueError:
        wanted = -1.0
    if not 0.0 < wanted <= 10_000.0:
        raise argparse.ArgumentTypeError(f'expected a number above 0 or "max", got {text!r}')
    return wanted
