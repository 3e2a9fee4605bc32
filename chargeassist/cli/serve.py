"""``serve``: the dashboard in a browser."""

import argparse

from chargeassist.cli.arguments import Commands, command, port
from chargeassist.cli.plain_output import complain
from chargeassist.model.errors import ConfigError

SERVED = ("live", "demo", "replay", "drill", "watch")


def add_commands(commands: Commands) -> None:
    """Add the parser of this command."""
    parser = command(
        commands,
        "serve",
        handler="chargeassist.cli.serve:serve",
        help="the dashboard of a session in a browser, for a tablet",
        description="Runs COMMAND and shows its dashboard at the address it prints. One session: "
        "a browser that comes later takes it over, one that leaves does not end it. Only this "
        "machine can reach it unless --host says otherwise; the link is not encrypted. Needs "
        "pip install 'chargeassist[web]'.",
        examples=("serve live job.toml", "serve --port 8100 demo --hands-on"),
    )
    parser.add_argument(
        "--host", default="127.0.0.1", help="address to listen at; default loopback"
    )
    parser.add_argument("--port", type=port, default=8022, metavar="N", help="default 8022")
    parser.add_argument(
        "words",
        nargs=argparse.REMAINDER,
        metavar="COMMAND ...",
        help=f"one of {', '.join(SERVED)}, with its arguments",
    )


def serve(arguments: argparse.Namespace) -> int:
    """Serve until interrupted."""
    words = arguments.words[1:] if arguments.words[:1] == ["--"] else arguments.words
    if not words or words[0] not in SERVED:
        raise ConfigError(
            f"serve: expected one of {', '.join(SERVED)} and its arguments, such as live job.toml, "
            f"got {' '.join(words) or 'nothing'!r}"
        )
    # What is wrong is told here, where somebody reads it, and not in the page that is opened later.
    asked = arguments.whole.parse_args(words)
    if words[0] == "live" and asked.job is not None:
        from chargeassist.cli.play import job_to_run

        job_to_run(asked.job)
    elif words[0] == "replay":
        from chargeassist.session.record.package import open_record

        with open_record(asked.recording):
            pass
    try:
        from chargeassist.web.server import TabletServer
    except ModuleNotFoundError as error:
        raise ConfigError(
            f"serve needs {error.name}: pip install 'chargeassist[web]' ('.[web]' from a clone)"
        ) from error
    server = TabletServer(words, arguments.host, arguments.port)
    print(f"dashboard: {server.url}", flush=True)
    if arguments.host not in {"127.0.0.1", "::1", "localhost"}:
        complain(
            "chargeassist: others on this network who learn the address can press its keys, and "
            "the link is not encrypted"
        )
    try:
        return server.run()
    except OSError as error:
        raise ConfigError(
            f"{arguments.host}:{arguments.port}: cannot be listened at: {error.strerror}; "
            "choose another --port"
        ) from error
