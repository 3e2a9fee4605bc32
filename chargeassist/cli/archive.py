"""``archive``, ``keys``, ``verify`` and ``recompute``: a record that can be trusted later."""

import argparse
from dataclasses import asdict, fields
from pathlib import Path
from typing import TYPE_CHECKING

from chargeassist.cli.arguments import Commands, add_json, add_place, command
from chargeassist.cli.as_json import print_json
from chargeassist.cli.plain_output import complain
from chargeassist.model.text import plain

if TYPE_CHECKING:
    from chargeassist.qa.archive import Signer
    from chargeassist.qa.keys import KnownKey
    from chargeassist.qa.verify import Verification
    from chargeassist.session.record.package import PackageReader
    from chargeassist.session.record.package_layout import Attachment
    from chargeassist.session.record.store import SessionReader

SHOWN = 20
LONGEST_LINE = 2000


def add_commands(commands: Commands) -> None:
    """Add the parsers of these commands."""
    _add_archive(commands)
    _add_keys(commands)
    verify_parser = command(
        commands,
        "verify",
        handler="chargeassist.cli.archive:verify",
        help="check that a record is whole and unchanged, and who signed it",
        description="Checks every hash, the session's hash chain, the seal and the signature, and "
        "says where the record itself has holes.",
        examples=("verify job-417.zip", "verify job-417.zip --signed-by desk --json"),
        fails="something contradicts, the end is missing, or the signature is another's",
    )
    verify_parser.add_argument(
        "records", nargs="+", type=Path, metavar="RECORD", help="archive, package or session file"
    )
    verify_parser.add_argument(
        "--signed-by", metavar="NAME", help="accept nothing but a valid signature of this key"
    )
    add_json(verify_parser)
    recompute_parser = command(
        commands,
        "recompute",
        handler="chargeassist.cli.archive:recompute",
        help="check that the raw readings give the recorded verdicts",
        description="Computes every verdict anew from the raw readings. Where one differs it says "
        "in which fields, and whether the software or the saturation table has changed since. "
        "It looks at no hash and no signature: verify does.",
        examples=("recompute job-417.zip", "recompute archives/*.zip --json"),
        fails="a verdict differs, or one of several records could not be read",
    )
    recompute_parser.add_argument(
        "records", nargs="+", type=Path, metavar="RECORD", help="archive, package or session file"
    )
    add_json(recompute_parser)


def _add_archive(commands: Commands) -> None:
    parser = command(
        commands,
        "archive",
        handler="chargeassist.cli.archive:archive",
        help="make a sealed Data Package of a session",
        description="Writes CSV tables with their schemas, the job and limits as used, hashes over "
        "all of it, and a signature where a key is named. An archive is never overwritten.",
        examples=(
            "archive job-417.session --to job-417.zip --sign desk --report",
            'archive job-417.session --to job-417b.zip --supersedes job-417.zip --reason "..."',
        ),
    )
    parser.add_argument(
        "session", type=Path, metavar="SESSION", help="session file, package folder or its ZIP"
    )
    add_place(parser, "--to", required=True, metavar="FOLDER|ZIP", help="a new folder, or NAME.zip")
    parser.add_argument("--sign", metavar="KEY", help="sign with this key (see: keys new)")
    parser.add_argument(
        "--supersedes", type=Path, metavar="OLD", help="the archive this one supersedes"
    )
    parser.add_argument("--reason", metavar="WHY", help="why it does; needed with --supersedes")
    parser.add_argument(
        "--report", action="store_true", help="seal a report in: report.html and report.pdf"
    )
    parser.add_argument(
        "--unfinished", action="store_true", help="archive a session that has no end, as it is"
    )


def _add_keys(commands: Commands) -> None:
    parser = command(
        commands,
        "keys",
        handler="chargeassist.cli.archive:keys",
        help="keys that sign archives, and keys that are trusted",
        description="new NAME makes a key; trust FILE.pub keeps somebody's public key, so that "
        "verify knows whose a signature is; without arguments the keys are listed.",
        examples=("keys", "keys new desk", "keys trust van-12.pub"),
    )
    parser.add_argument("action", nargs="?", choices=("list", "new", "trust"), default="list")
    parser.add_argument("what", nargs="?", metavar="NAME|FILE.pub")
    parser.add_argument("--name", help="what to call the trusted key; its file's name otherwise")
    add_json(parser)


def archive(arguments: argparse.Namespace) -> int:
    """Archive one session."""
    from chargeassist.model.errors import ConfigError
    from chargeassist.qa.archive import Supersedes, make_archive

    if (arguments.supersedes is None) != (arguments.reason is None):
        raise ConfigError("archive: --supersedes OLD and --reason WHY go together")
    digest = make_archive(
        arguments.session,
        arguments.to,
        signer=_signer(arguments.sign),
        supersedes=(
            None
            if arguments.supersedes is None
            else Supersedes(arguments.supersedes, arguments.reason)
        ),
        unfinished=arguments.unfinished,
        more=_reports if arguments.report else None,
    )
    print(f"archive: {arguments.to}")
    print(f"sealed as: {digest}")
    if arguments.sign is None:
        complain("not signed: hashes show damage; only a signature shows who sealed it")
    return 0


def _reports(record: "SessionReader | PackageReader") -> "list[Attachment]":
    from chargeassist.qa.report import report_files

    return report_files(record)


def _signer(name: str | None) -> "Signer | None":
    if name is None:
        return None
    from chargeassist.qa.archive import Signer
    from chargeassist.qa.keys import keys_folder, private_key

    return Signer(name, private_key(name, keys_folder()))


def keys(arguments: argparse.Namespace) -> int:
    """List keys, make one, or trust one."""
    from chargeassist.model.errors import ConfigError
    from chargeassist.qa.keys import keys_folder, known_keys, new_key, trust

    folder = keys_folder()
    if arguments.name is not None and arguments.action != "trust":
        raise ConfigError(f"keys {arguments.action}: --name goes with trust")
    if arguments.action == "list":
        if arguments.what is not None:
            raise ConfigError(f"keys list: expected nothing more, got {arguments.what!r}")
        if arguments.json:
            print_json([_key(key) for key in known_keys(folder)])
            return 0
        for key in known_keys(folder):
            print(f"{key.name}: {key.fingerprint} ({'yours' if key.own else 'trusted'})")
        print(f"kept in {folder}")
        return 0
    if arguments.what is None:
        raise ConfigError(f"keys {arguments.action}: expected a name or a file, got none")
    if arguments.action == "new":
        key = new_key(arguments.what, folder)
        if arguments.json:
            print_json(_key(key))
            return 0
        print(f"{key.name}: {key.fingerprint}")
        print(f"give others this file, so that they know your signature: {folder / key.name}.pub")
        print(f"keep this one to yourself, and a copy of it: {folder / key.name}.key")
        return 0
    path = Path(arguments.what)
    key = trust(path, arguments.name or path.stem, folder)
    if arguments.json:
        print_json(_key(key))
        return 0
    print(f"{key.name}: {key.fingerprint} is trusted from now on")
    return 0


def _complete(found: "Verification") -> str:
    if found.started is None:
        return "not known: it cannot be read"
    return "yes" if found.complete else "no: the end of the session is missing"


def _key(key: "KnownKey") -> dict[str, object]:
    return {"name": key.name, "fingerprint": key.fingerprint, "own": key.own}


def verify(arguments: argparse.Namespace) -> int:
    """Check records and print the answers; of several, what cannot be read stops nothing."""
    from chargeassist.model.errors import ChargeAssistError, ConfigError
    from chargeassist.qa.keys import keys_folder, known_keys
    from chargeassist.qa.verify import verify as check

    known = known_keys(keys_folder())
    wanted = arguments.signed_by
    if wanted == "":  # as from a shell's variable that is not set; no signature has no name too
        raise ConfigError("verify: --signed-by: expected the name of a key, got nothing")

    def tell(path: Path, found: "Verification") -> None:
        started = found.started
        _say(f"{path}: {found.kind}")
        if started is not None:
            _say(f"  session: {started.session_id}, {started.mode.value}, {started.started_utc}")
            _say(f"  made by: {started.software}, table {started.table_hash[:12]}")
        _say(f"  complete: {_complete(found)}")
        _say(f"  hash chain: {found.chain or 'not read'}")
        if found.sealed_as:
            _say(f"  sealed as: {found.sealed_as}")
        _say(f"  signature: {found.signature}")
        if found.supersedes:
            _say(f"  supersedes {found.supersedes}: {found.reason}")
        _several("gaps", found.gaps)
        _several("clock steps", found.clock_steps)
        _several("problems", found.problems)

    answers: list[dict[str, object]] = []
    refused = []
    for path in arguments.records:
        try:
            found = check(path, known)
        except ChargeAssistError as error:
            if len(arguments.records) == 1:
                raise
            complain(f"chargeassist: {error}")
            answers.append({"record": path, "ok": False, "error": str(error)})
            refused.append(path)
            continue
        accepted = wanted in (None, found.signed_by)
        if not (found.ok and accepted):
            refused.append(path)
        if arguments.json:
            answers.append(_verified(path, found, accepted=accepted))
            continue
        tell(path, found)
        if not accepted:
            _say(f"  not accepted: expected a valid signature by {wanted}")
    if arguments.json:
        print_json(answers)
    elif len(arguments.records) > 1:
        whole = len(arguments.records) - len(refused)
        _say(f"{len(arguments.records)} records, {whole} without problems")
        for path in refused:
            _say(f"  look at: {path}")
    return 1 if refused else 0


def _verified(path: Path, found: "Verification", *, accepted: bool) -> dict[str, object]:
    started = found.started
    session = started and {
        name: getattr(started, name)
        for name in ("session_id", "mode", "started_utc", "software", "table_hash")
    }
    return {
        "record": path,
        "ok": found.ok and accepted,
        **{field.name: getattr(found, field.name) for field in fields(found)},
        "started": session,
    }


def recompute(arguments: argparse.Namespace) -> int:
    """Compute verdicts again and print where they differ."""
    from chargeassist.model.errors import ChargeAssistError
    from chargeassist.qa.recompute import compare
    from chargeassist.qa.rescore import rescore
    from chargeassist.session.record.package import open_record

    code = 0
    answers: list[dict[str, object]] = []
    for path in arguments.records:
        try:
            with open_record(path) as record:
                found = compare(rescore(record))
        except ChargeAssistError as error:
            if len(arguments.records) == 1:
                raise
            complain(f"chargeassist: {error}")
            answers.append({"record": path, "error": str(error)})
            code = 1
            continue
        code = 1 if found.differences else code
        if arguments.json:
            answers.append({"record": path, **asdict(found)})
            continue
        differ = f"{len(found.differences)} differ" if found.differences else "all the same"
        _say(f"{path}: {found.compared} verdicts compared, {differ}")
        _several("differences", [difference.text for difference in found.differences])
        for cause in found.causes:
            _say(f"  why: {cause}")
        _say(f"  verdicts sha256: {found.verdicts_sha256}")
    if arguments.json:
        print_json(answers)
    return code


def _say(line: str) -> None:
    """Print one line: a line feed in what a record says must not begin another."""
    print(plain(line, LONGEST_LINE))


def _several(title: str, items: "tuple[str, ...] | list[str]") -> None:
    if not items:
        _say(f"  {title}: none")
        return
    _say(f"  {title}:")
    for item in items[:SHOWN]:
        _say(f"    {item}")
    if len(items) > SHOWN:
        _say(f"    and {len(items) - SHOWN} more")
