"""``chargeassist``: the commands, their arguments, and what the shell gets back.

Exit codes: 0 done; 1 the work ended with a failure that was told; 2 the command line, a file or an
address cannot be used; 130 interrupted, 143 terminated. Results go to standard output, messages to
standard error.
"""

import sys

from chargeassist.model.build import software


def main(argv: list[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    argv : list of str, optional
        Without the program's name; ``sys.argv[1:]`` otherwise.
    """
    arguments = sys.argv[1:] if argv is None else argv
    if arguments == ["--version"]:
        print(software())
        return 0
    # Imported here: the version is asked for by scripts that should not wait for all the commands.
    try:
        from chargeassist.cli.command_line import run_command

        return run_command(arguments)
    except KeyboardInterrupt:  # before the command itself had begun to listen for it
        return 130
