"""The first page of the help: what to begin with, then every command with those of its kind."""

from collections.abc import Iterator, Mapping
from typing import Final

from chargeassist.cli.paragraphs import hanging

BEGIN: Final = (
    ("chargeassist demo", "watch a simulated unit being charged"),
    ("chargeassist job new job.toml", "your own unit, question by question"),
    ("chargeassist probes --guide job.toml", "connect your probes to it"),
    ("chargeassist live job.toml", "charge"),
)

KINDS: Final = (
    ("the job", ("demo", "live", "watch", "serve", "job", "probes", "profiles")),
    ("training", ("simulate", "replay", "drill", "debrief")),
    ("look something up", ("saturation", "standing", "airflow")),
    (
        "the record",
        (
            "report",
            "archive",
            "keys",
            "verify",
            "recompute",
            "audit",
            "import",
            "export",
            "fleet",
        ),
    ),
    ("the shell", ("completion",)),
)
"""Every command, by who asks for it."""

CAUTION: Final = (
    "It advises and records; it decides nothing. Follow the unit's plate, its maker's instructions "
    "and local code; refrigerant and electrical work is for licensed people."
)


def front_page(about: str, helps: Mapping[str, str]) -> str:
    """Return what stands under the usage.

    Parameters
    ----------
    about : str
        What the program is for.
    helps : mapping of str to str
        Command to what it does, in a few words.
    """
    return "\n".join([*hanging(about), "", *_lines(helps)])


def _lines(helps: Mapping[str, str]) -> Iterator[str]:
    yield "to begin with:"
    wide = max(len(line) for line, _ in BEGIN) + 2
    for line, what in BEGIN:
        yield f"  {line:{wide}}{what}"
    indent = 2 + max(map(len, helps)) + 2
    for kind, names in KINDS:
        yield ""
        yield f"{kind}:"
        for name in names:
            label = f"  {name}".ljust(indent)
            yield from hanging(helps[name], label, " " * indent)
    yield ""
    yield "chargeassist COMMAND --help has examples and exit codes."
    yield from hanging(CAUTION)
