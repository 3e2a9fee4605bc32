"""``import``, ``export`` and ``report``: records from and for others."""

import argparse
from pathlib import Path

from chargeassist.cli.arguments import Commands, add_place, add_units, command


def add_commands(commands: Commands) -> None:
    """Add the parsers of these commands."""
    reading = command(
        commands,
        "import",
        handler="chargeassist.cli.exchange:import_",
        help="make a record of a generic logger's CSV file",
        description="MAP.toml says which column is which probe, and names the job. The record is a "
        "package folder; verdicts are computed from the imported readings.",
        examples=("import log.csv --map map.toml --to record/",),
    )
    reading.add_argument("log", type=Path, metavar="LOG.csv")
    reading.add_argument("--map", type=Path, required=True, metavar="MAP.toml")
    add_place(reading, "--to", required=True, metavar="FOLDER", help="a new folder")
    writing = command(
        commands,
        "export",
        handler="chargeassist.cli.exchange:export",
        help="write a record's readings as CSV or Parquet",
        description="CSV: a row per time, a column per probe in its own unit. Parquet: a row per "
        "reading in SI units.",
        examples=("export job-417.session --to readings.csv",),
    )
    writing.add_argument("record", type=Path, metavar="RECORD")
    add_place(writing, "--to", required=True, metavar="FILE", help="ends in .csv or .parquet")
    telling = command(
        commands,
        "report",
        handler="chargeassist.cli.exchange:report",
        help="the report of a session for customer and warranty desk",
        description="One HTML page that needs no network, or a PDF: verdicts with uncertainty and "
        "the source of each limit, pictures, ledger, instruments, hashes.",
        examples=("report job-417.zip --to job-417.pdf", "report job-417.zip --to job-417.html"),
    )
    telling.add_argument("record", type=Path, metavar="RECORD")
    add_place(telling, "--to", required=True, metavar="FILE", help="ends in .html or .pdf")
    add_units(telling)


def report(arguments: argparse.Namespace) -> int:
    """Write the report of one record."""
    from chargeassist.qa.keys import keys_folder, known_keys
    from chargeassist.qa.report import write_report

    known = known_keys(keys_folder())
    write_report(arguments.record, arguments.to, arguments.units or "", known)
    print(f"report: {arguments.to}")
    return 0


def import_(arguments: argparse.Namespace) -> int:
    """Import one log."""
    from chargeassist.model.events import BadInput, Event, Reading
    from chargeassist.qa.import_log import import_log
    from chargeassist.session.record.package import write_package

    events: list[Event] = list(import_log(arguments.log, arguments.map))
    write_package(events, arguments.to)
    readings = sum(isinstance(event, Reading) for event in events)
    faults = [event for event in events if isinstance(event, BadInput)]
    print(f"record: {arguments.to}, {readings} readings")
    for fault in faults[:10]:
        print(f"  not read: {fault.reason}")
    if len(faults) > 10:
        print(f"  and {sum(fault.count for fault in faults[10:])} more; all are in the record")
    return 0


def export(arguments: argparse.Namespace) -> int:
    """Export one record."""
    from chargeassist.qa import export as work
    from chargeassist.session.record.package import open_record

    with open_record(arguments.record) as record:
        count = work.export(record, arguments.to)
    print(f"{arguments.to}: {count} readings")
    return 0
