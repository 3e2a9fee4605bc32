"""Profiles of your own: a file beside the job file, in the form of the shipped ones.

A job names it as it names a shipped one: ``profile = ["house.toml", "california-installer"]``. What
counts of it goes into the record with the job, so that nobody needs the file to read the record.
"""

from pathlib import Path

from chargeassist.model.limits import Profile
from chargeassist.model.text import plain
from chargeassist.session.job.profiles import parse_profiles
from chargeassist.session.job.toml_table import TomlTable, file_text


def profile_file(path: Path) -> tuple[Profile, ...]:
    """Return the profiles of the file at `path`, in its order.

    Raises
    ------
    ConfigError
        If it cannot be read, or is no file of profiles; the text names profile, limit and key.
    """
    return tuple(parse_profiles(file_text(path, "a file of profiles"), str(path)).values())


def profiles_beside(top: TomlTable, name: str) -> tuple[Profile, ...]:
    """Return the profiles of the file `name` in the folder of the job file `top`.

    Raises
    ------
    ConfigError
        As `profile_file`; also where `name` leads out of that folder.
    """
    if Path(name).name != name or "\\" in name:
        raise top.error(
            "profile", "expected the name of a file beside the job file", repr(plain(name, 60))
        )
    return profile_file(Path(top.file).parent / name)
