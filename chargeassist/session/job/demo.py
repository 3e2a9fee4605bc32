"""The demonstration jobs shipped with the program; invented, and simulated."""

import re
from dataclasses import replace
from importlib.resources import files

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import Job
from chargeassist.session.job.jobfile import parse_job

DEMO_JOBS = ("library", "bakery")


def demo_job(name: str, seed: int | None = None) -> Job:
    """Return a demonstration job.

    Parameters
    ----------
    name : str
        One of `DEMO_JOBS`.
    seed : int, optional
        Another seed for the simulated unit's noise.

    Raises
    ------
    ConfigError
        If there is no such job.
    """
    if name not in DEMO_JOBS:
        raise ConfigError(f"expected a demonstration: {', '.join(DEMO_JOBS)}, got {name!r}")
    text = (files("chargeassist") / "data" / f"{name}.toml").read_text(encoding="utf-8")
    job = parse_job(text, f"{name}.toml")
    if seed is None:
        return job
    sources = tuple(
        replace(source, url=re.sub(r"\bseed=\d+", f"seed={seed}", source.url))
        for source in job.sources
    )
    return replace(job, sources=sources)
