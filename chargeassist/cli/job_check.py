"""``job check``: what a job file says and lacks, as lines or as JSON."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from chargeassist.cli.as_json import print_json
from chargeassist.cli.paragraphs import beside, hanging
from chargeassist.cli.plain_output import complain
from chargeassist.cli.shown import shown_in
from chargeassist.guide.stages import weigh_in_words
from chargeassist.guide.stages.unjudged import unjudged
from chargeassist.model import display
from chargeassist.model.channels import Channel
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import Limit, Method
from chargeassist.model.units import Quantity, Unit, find_unit, unit_symbols
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.errors import errors_of
from chargeassist.session.job.jobfile import read_job
from chargeassist.session.job.overrides import set_here
from chargeassist.session.job.report import (
    JobReport,
    StageReport,
    as_data,
    is_scenarios,
    report_on,
)
from chargeassist.session.job.toml_table import file_text, toml_of
from chargeassist.session.scenario.too_late import too_late_for

_STATE = {
    "ready": "ready",
    "less": "can be worked on, judged better with",
    "missing": "cannot be judged, missing",
}


def check(path: Path, *, as_json: bool = False) -> int:
    """Check the job file at `path` and print what it says and lacks; return the exit code."""
    text = file_text(path, "a job file")
    errors = errors_of(toml_of(text, str(path)))
    if errors:
        if as_json:
            print_json({"error": errors[0], "errors": errors})
        for error in errors:
            complain(f"chargeassist: {error}")
        if len(errors) > 1:
            complain(f"chargeassist: {len(errors)} errors, one per table at most")
        return 2
    today = datetime.now(tz=UTC).astimezone().date()
    job = read_job(toml_of(text, str(path)))
    report = report_on(job, today, path.parent)
    if not report.unknown:
        late = too_late_for(job, path.parent)
        report = replace(report, warnings=(*report.warnings, *late))
    if as_json:
        print_json(as_data(report))
    else:
        print("\n".join(lines_of(report)))
    return 0 if report.workable else 1


def lines_of(report: JobReport) -> Iterator[str]:
    """Yield what is printed of a report: the job, its probes, what to look at, the stages."""
    job = report.job
    yield from hanging(job.name)
    rows = [
        ("refrigerant", _refrigerant(report)),
        ("target", _target(job)),
        ("profile", _profile(job)),
        ("weigh-in", _weigh_in(report)),
        ("begins with", _begins(job)),
    ]
    rows += [("limit", _override(limit)) for limit in set_here(job.limits)]
    for label, text in rows:
        yield from beside(label, text)
    probes = [_probe(channel) for channel in report.channels]
    probes += [
        f"those of {source.name} are named when it is opened; not counted below"
        for source in job.sources
        if not source.probes and not is_scenarios(source)
    ]
    if not job.sources:
        probes = ["none: every reading is typed (by_hand)"]
    for number, text in enumerate(probes):
        yield from beside("" if number else "probes", text)
    for warning in report.warnings:
        yield from beside("look again", warning)
    yield ""
    for stage in report.stages:
        yield from _stage(stage)
    yield ""
    missing = sum(stage.state == "missing" for stage in report.stages)
    if missing:
        many = "1 stage misses" if missing == 1 else f"{missing} stages miss"
        end = f"{many} something needed; write the key named above into the file."
    elif report.unknown:
        end = "A source of the job cannot be used here; see what is to be looked at again."
    else:
        end = "Every stage can be worked on."
    yield from hanging(end)


def _refrigerant(report: JobReport) -> str:
    typed = report.job.plate.safety_group
    if typed is not None:
        return f"{report.job.refrigerant}, {typed.value} by the plate"
    if report.group is not None:
        return (
            f"{report.job.refrigerant}, {report.group.value} by the shipped table (from memory); "
            "the plate's group is not in the file"
        )
    return f"{report.job.refrigerant}, safety group not known"


def _target(job: Job) -> str:
    target, units = job.target, shown_in(None, job)
    value_k = target.fixed_k
    number = "from the published table" if value_k is None else display.difference(value_k, units)
    text = f"{target.method.value} {number} ± {display.difference(target.tolerance_k, units)}"
    text += f"; read at: {target.source}"
    if target.tolerance_source and target.tolerance_source != "job file":
        text += f"; tolerance: {target.tolerance_source}"
    if target.method is Method.SUPERHEAT and value_k is None and target.return_wet_bulb_k:
        text += f"; wet bulb typed ({target.return_wet_bulb_source})"
    return text


def _profile(job: Job) -> str:
    text = "none named; chargeassist profiles lists them"
    if job.profile:
        text = job.profile + (f", as {job.role}" if job.role else "")
    open_ones = unjudged(job)
    if open_ones:
        text += f"; not judged, for nothing limits it: {', '.join(open_ones)}"
    return text


def _weigh_in(report: JobReport) -> str:
    job, line = report.job, report.line
    units = shown_in(None, job)
    text = f"plate charge {display.mass(job.charge.plate_kg, units)}"
    allowance_kg = job.charge.allowance_kg
    if allowance_kg and not job.charge.allowance_source:
        full = display.mass(job.charge.full_kg, units)
        return (
            f"{text}, line set {display.mass(allowance_kg, units)} as typed "
            f"(charge.line_set_allowance): {full}"
        )
    if line.kg is not None:
        text += f", with the line set {display.mass(job.charge.plate_kg + line.kg, units)}"
    figures = {
        "kg": line.kg,
        "adder_kg_per_m": line.adder_kg_per_m,
        "length_m": None if job.line_set is None else job.line_set.length_m,
        "included_m": None if job.line_set is None else job.line_set.included_m,
    }
    known = {key: value for key, value in figures.items() if value is not None}
    phrase = weigh_in_words.WORDS.rows["line_charge"][1]
    text += f"; line set: {phrase(known, line.why, units)}"
    return text + (f" ({line.source})" if line.source else "")


def _override(limit: Limit) -> str:
    text = f"{limit.key.words} {limit.as_written}, {limit.citation}"
    usual = USUAL.get(limit.key)
    return text if usual is None else f"{text}; in the place of {usual.as_written}"


def _begins(job: Job) -> str:
    if job.begins_source:
        return f"{job.begins.value}; not before it: {job.begins_source}"
    if job.begins is Stage.RUN_UP:
        return f"{job.begins.value}; the circuit is taken to hold refrigerant"
    said = f"{job.begins.value}; nothing is in the circuit"
    return f'{said}. Where that is not so, say charge.weighed_in, or begins = "run-up"'


def _probe(channel: Channel) -> str:
    facts = [
        f"{channel.role.value} in {channel.unit}",
        accuracy_words(channel),
        f"serial {channel.serial}" if channel.serial else "no serial number",
        f"calibrated {channel.calibrated}" if channel.calibrated else "no calibration date",
    ]
    return ", ".join(facts)


def accuracy_words(channel: Channel) -> str:
    """Return the declared accuracy in the probe's unit: "± 1 psi", "± 0.5 % of reading"."""
    if channel.accuracy is None:
        return "no accuracy declared"
    parts = []
    if channel.accuracy.absolute_si:
        size = channel.accuracy.absolute_si
        if channel.quantity is Quantity.TEMPERATURE:
            us = channel.unit.endswith("F")
            parts.append(display.difference(size, UnitSystem.US if us else UnitSystem.SI, 2))
        else:
            unit = find_unit(channel.unit, channel.quantity)
            parts.append(f"{size / unit.scale:.3g} {_size_symbol(unit)}")
    if channel.accuracy.relative:
        parts.append(f"{channel.accuracy.relative * 100.0:.3g} % of reading")
    return "± " + " + ".join(parts or ["0"])


def _size_symbol(unit: Unit) -> str:
    """Return the symbol of a size in `unit`: half widths of psig are psi."""
    for symbol in unit_symbols(unit.quantity):
        other = find_unit(symbol, unit.quantity)
        if unit.reference and other.reference is None and other.scale == unit.scale:
            return other.symbol
    return unit.symbol


def _stage(stage: StageReport) -> Iterator[str]:
    yield from hanging(f"{stage.stage.value}: {_STATE[stage.state]}", others="  ")
    for needed in (True, False):
        lacks = [lack for lack in stage.lacks if lack.needed is needed]
        if lacks and not needed and stage.state == "missing":
            yield "  and judged better with"
        for lack in lacks:
            yield from hanging(f"{lack.what} -> {lack.where}", "  - ", "    ")
