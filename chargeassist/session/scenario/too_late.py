"""Which faults of a scenario begin only when it has ended. Pure.

They are no error: joined to another scenario, or run for longer, it may come to them.
"""

from collections.abc import Iterator
from pathlib import Path

from chargeassist.model.display import clock
from chargeassist.model.job import Job
from chargeassist.plant.nitrogen_settings import NitrogenSettings
from chargeassist.plant.probe_set import ProbeFault
from chargeassist.session.scenario.faults import MACHINE
from chargeassist.session.scenario.scenario import Scenario, ScenarioUnit, find_scenario
from chargeassist.session.scenario.stage import StageUnit

_KINDS = {kind.field: word for word, kind in MACHINE.items()}


def too_late(scenario: Scenario) -> tuple[str, ...]:
    """Return a sentence for each fault of `scenario` that it ends before, in order of time."""
    begins: list[tuple[float, str]] = []
    if scenario.unit is not None:
        begins += _of_the_unit(scenario.unit)
        begins += _of_probes(scenario.unit.probes.faults)
    if scenario.stage_unit is not None:
        begins += _of_a_stage(scenario.stage_unit)
        begins += _of_probes(scenario.stage_unit.probes.faults)
    return tuple(
        f"{scenario.name}: {what} begins at {clock(at_s)} and never happens: the scenario lasts "
        f"{clock(scenario.lasts_s)}"
        for at_s, what in sorted(set(begins))
        if at_s >= scenario.lasts_s
    )


def too_late_for(job: Job, base: Path) -> tuple[str, ...]:
    """Return the same for the simulators of `job`; relative paths start at `base`.

    Joined scenarios go on for as long as somebody works, one of a ``length`` of its own for that.

    Raises
    ------
    ConfigError
        There is no such scenario.
    """
    said: list[str] = []
    for source in job.sources:
        place, _, query = source.url.partition(":")[2].partition("?")
        lasts_as_said = "length=" in query or "length" in source.options
        alone = "+" not in place and place.strip("/") and not lasts_as_said
        if source.scheme == "simulator" and alone:
            said += too_late(find_scenario(place, base))
    return tuple(said)


def _of_the_unit(unit: ScenarioUnit) -> Iterator[tuple[float, str]]:
    settings = unit.settings
    for course in settings.courses:
        # The end of a fault is a course too, back to where it was.
        word = _KINDS.get(course.name)
        if word is not None and not course.heals:
            yield course.start_s, word
    for at_s, hertz in unit.commands:
        if hertz is not None:
            yield at_s, "frequency drop"
    for silence in unit.silences:
        yield silence.start_s, "radio gap"
    yield settings.oil_return_at_s, "oil return"
    yield settings.defrost_at_s, "defrost"


def _of_a_stage(unit: StageUnit) -> Iterator[tuple[float, str]]:
    warming = "sun" if isinstance(unit.settings, NitrogenSettings) else "heat"
    for happening in unit.happenings:
        yield happening.start_s, warming if happening.leak is None else "leak"
    for silence in unit.silences:
        yield silence.start_s, "radio gap"


def _of_probes(faults: tuple[ProbeFault, ...]) -> Iterator[tuple[float, str]]:
    for fault in faults:
        yield fault.start_s, f"{fault.role.value} {fault.trouble.value}"
