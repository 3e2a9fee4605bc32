"""``audit``: hold the rules of good work against many records."""

import argparse
import csv
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from chargeassist.cli.arguments import (
    Commands,
    above_zero,
    add_cores,
    add_format,
    add_place,
    command,
)
from chargeassist.cli.as_json import print_json

if TYPE_CHECKING:
    from chargeassist.qa.audit_rules import Rule


def add_commands(commands: Commands) -> None:
    """Add the parser of this command."""
    parser = command(
        commands,
        "audit",
        handler="chargeassist.cli.audit:audit",
        help="what went wrong in many sessions, by rule",
        description="Verifies every record below the folders, computes it again from its raw "
        "readings, and holds the rules against it. What is merely not stated is a remark: it is "
        "listed, and is no failure.",
        examples=(
            "audit archives/",
            "audit archives/ --format csv --out audit.csv",
            "audit --rules",
        ),
        fails="anything is found, remarks aside",
    )
    parser.add_argument("places", nargs="*", type=Path, metavar="FOLDER|RECORD")
    add_format(parser)
    add_place(parser, "--out", metavar="FILE", help="a new file; screen otherwise")
    add_cores(parser)
    parser.add_argument(
        "--calibration-months",
        type=above_zero,
        default=12.0,
        metavar="N",
        help="how long a calibration counts; default 12",
    )
    parser.add_argument(
        "--accept-simulated", action="store_true", help="as in a school: no finding by itself"
    )
    parser.add_argument("--rules", action="store_true", help="say what each rule compares")


def audit(arguments: argparse.Namespace) -> int:
    """Audit and print, or list the rules."""
    from chargeassist.cli.progress import progress
    from chargeassist.model.errors import ConfigError
    from chargeassist.qa import audit as work
    from chargeassist.qa.audit_rules import RULES, Policy
    from chargeassist.qa.many import records_under
    from chargeassist.session.whole_file import write_whole

    if arguments.rules:
        if arguments.places or arguments.out is not None:
            raise ConfigError("audit: --rules says what is compared, and looks at no record")
        _print_rules(RULES, arguments.format)
        return 0
    if not arguments.places:
        raise ConfigError("audit: expected a folder or a record, got none")
    if arguments.out is not None and arguments.out.exists():
        raise ConfigError(f"{arguments.out}: already exists; choose another name")
    policy = Policy(
        calibration_months=arguments.calibration_months,
        accept_simulated=arguments.accept_simulated,
    )
    paths = records_under(arguments.places)
    done = progress(work.audit(paths, policy, arguments.cores), len(paths), "audited")
    found = work.crossed(list(done))
    form = {"table": work.as_table, "csv": work.as_csv, "json": work.as_json}
    text = form[arguments.format](found)
    if arguments.out is None:
        print(text, end="")
    else:
        try:
            write_whole(arguments.out, text.encode(), new=True)
        except OSError as error:
            print(text, end="")  # it took long to find
            raise ConfigError(f"{arguments.out}: cannot be written ({error.strerror})") from error
        print(f"{arguments.out}: {len(found)} records")
    return 1 if any(item.wrong for item in found) else 0


def _print_rules(rules: "Mapping[str, Rule]", form: str) -> None:
    """Print what each rule compares, as a table is asked for."""
    told = {name: (rule.__doc__ or "").partition("\n")[0] for name, rule in rules.items()}
    if form == "json":
        print_json([{"rule": name, "compares": about} for name, about in told.items()])
    elif form == "csv":
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(("rule", "compares"))
        writer.writerows(told.items())
    else:
        for name, about in told.items():
            print(f"{name}: {about}")
