"""``profiles``: the shipped profiles of limits, each limit with where it comes from."""

import argparse
import difflib
from collections.abc import Iterator
from pathlib import Path

from chargeassist.cli.as_json import print_json
from chargeassist.cli.paragraphs import beside, hanging
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import Kind, Limit, Profile
from chargeassist.model.usual_limits import USUAL_PROFILE
from chargeassist.session.job.limits import shipped_profiles
from chargeassist.session.job.profile_files import profile_file


def profiles(arguments: argparse.Namespace) -> int:
    """List the profiles, or print one with all of its limits."""
    known = shipped_profiles() | {USUAL_PROFILE.name: USUAL_PROFILE}
    name = arguments.name
    if name is not None and name.endswith(".toml"):
        known = {profile.name: profile for profile in profile_file(Path(name))}
        if arguments.json:
            print_json(list(known.values()))
        else:
            print("\n\n".join("\n".join(_whole(profile)) for profile in known.values()))
        return 0
    if name is None:
        if arguments.json:
            print_json({each.name: each.title for each in known.values()})
        else:
            print("\n".join(_list(known)))
        return 0
    if name not in known:
        near = difflib.get_close_matches(name, known, n=1)
        hint = f" (did you mean {near[0]!r}?)" if near else ""
        raise ConfigError(f"profiles: expected one of {', '.join(known)}, got {name!r}{hint}")
    if arguments.json:
        print_json(known[name])
    else:
        print("\n".join(_whole(known[name])))
    return 0


def _list(known: dict[str, Profile]) -> Iterator[str]:
    indent = max(map(len, known)) + 2
    for name, profile in known.items():
        count = len(profile.limits)
        facts = f"{count} limit{'' if count == 1 else 's'}"
        if profile.forbids:
            facts += f"; forbids judging by {', '.join(sorted(profile.forbids))}"
        yield from beside(name, f"{profile.title}: {facts}", indent)
    yield ""
    for line in (
        'A job file names one: profile = "NAME". chargeassist profiles NAME prints its limits.',
        'One of your own lies beside the job file: profile = "house.toml"; profiles house.toml.',
        f"{USUAL_PROFILE.name} counts where neither the job file nor its profiles say otherwise.",
    ):
        yield from hanging(line)


def _whole(profile: Profile) -> Iterator[str]:
    yield f"{profile.name}: {profile.title}"
    if profile.note:
        yield from hanging(profile.note)
    for method in sorted(profile.forbids):
        yield f"Forbids judging by {method.value}; a job that does so is refused."
    for limit in profile.limits.values():
        yield ""
        yield from _limit(limit)
    yield ""
    yield f"fingerprint {profile.fingerprint[:16]}"


def _limit(limit: Limit) -> Iterator[str]:
    strict = "; the limit itself does not pass" if limit.strict else ""
    yield f"{limit.key.value}  {_value(limit)}{strict}"
    rows = [
        ("source", limit.source),
        ("edition", limit.edition or "none named"),
        ("authority", limit.authority.words),
        ("read at", limit.address),
        ("from memory", "yes: it was not read in the document" if limit.from_memory else "no"),
        ("note", limit.note),
    ]
    for label, text in rows:
        if text:
            yield from beside(f"  {label}", text, 15)


def _value(limit: Limit) -> str:
    """Return the value as written, and in both systems of units where they differ."""
    si, us = UnitSystem.SI, UnitSystem.US
    match limit.key.kind:
        case Kind.TEMP:
            both = [display.temperature(limit.value_si, system) for system in (us, si)]
        case Kind.TEMP_DIFFERENCE:
            both = [display.difference(limit.value_si, system) for system in (us, si)]
        case Kind.MASS:
            both = [display.mass(limit.value_si, system) for system in (us, si)]
        case _:
            return limit.as_written
    return f"{limit.as_written} ({', '.join(both)})"
