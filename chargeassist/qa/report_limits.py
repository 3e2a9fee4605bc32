"""Every limit a session was judged by, with its source: none is used that is not listed."""

from collections.abc import Iterator

from chargeassist.guide.stages.unjudged import unjudged, why_unjudged
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.limits import LimitKey
from chargeassist.model.text import plain
from chargeassist.model.units import Reference

Row = tuple[str, str, str]

_NOT_SAID = "job file, which does not say where it was read"


def limit_rows(job: Job, system: UnitSystem) -> tuple[Row, ...]:
    """Return a row for each limit: what, the value as used, the source."""
    profile = [
        (
            limit.key.words,
            plain(limit.as_written, 60),
            plain(limit.citation, 200),
        )
        for limit in job.limits
    ]
    return (
        *_target(job, system),
        *profile,
        *_guards(job, system),
        *((name, "not judged", why_unjudged(job)) for name in unjudged(job)),
        *_documents(job, system),
        *_processing(job, system),
    )


def _target(job: Job, system: UnitSystem) -> Iterator[Row]:
    target = job.target
    yield (
        f"{target.judged.name} tolerance",
        f"± {display.difference(target.tolerance_k, system)}",
        plain(target.tolerance_source, 200),
    )
    low = display.difference_number(target.superheat_low_k, system)
    if target.judged is SUBCOOLING:
        value = f"{low} to {display.difference(target.superheat_high_k, system)}"
        yield "superheat, range", value, plain(target.superheat_source, 200)
    else:
        value = display.difference(target.superheat_low_k, system)
        yield "superheat, lowest", value, plain(target.superheat_source, 200)
        value = display.difference(target.subcooling_high_k, system)
        yield "subcooling, highest", value, plain(target.subcooling_source, 200)
    if target.approach_k is not None:
        value = (
            f"{display.difference_number(target.approach_k, system)} ± "
            f"{display.difference(target.approach_tolerance_k, system)}"
        )
        yield "approach", value, plain(target.approach_source, 200)


def _guards(job: Job, system: UnitSystem) -> Iterator[Row]:
    guards, charge = job.guards, job.charge
    source = plain(guards.source, 200) or _NOT_SAID
    for name, value_pa in (
        ("liquid pressure, highest", guards.liquid_pressure_high_pa_gauge),
        ("suction pressure, lowest", guards.suction_pressure_low_pa_gauge),
    ):
        if value_pa is not None:
            yield name, display.pressure(value_pa, Reference.GAUGE, system), source
    if guards.discharge_temp_high_k is not None:
        value = display.temperature(guards.discharge_temp_high_k, system)
        yield "discharge temperature, highest", value, source
    if guards.current_high_a is not None:
        yield "compressor amps, highest", f"{guards.current_high_a:g} A", source
    if charge.limit_kg is not None:
        value = display.mass(charge.limit_kg, system)
        yield "charge, most the circuit may hold", value, plain(charge.limit_source, 200)


def _documents(job: Job, system: UnitSystem) -> Iterator[Row]:
    """Yield the maker's own figures a reading was held against."""
    electrical, table = job.stages.electrical, job.performance
    if electrical.amps_a is not None:
        value = f"{electrical.amps_a:g} A ± {100.0 * electrical.amps_tolerance:g} %"
        yield "running amps at the frequency of the test", value, plain(electrical.source, 200)
    if table is None:
        return

    def source(name: str) -> str:
        return plain("; ".join(table.source_of(name)), 300)

    for name, value_pa, tolerance_pa in (
        ("liquid pressure", table.liquid_pressure_pa_gauge, table.liquid_tolerance_pa),
        ("suction pressure", table.suction_pressure_pa_gauge, table.suction_tolerance_pa),
    ):
        if value_pa is not None:
            value = display.pressure(value_pa, Reference.GAUGE, system)
            tolerance = display.pressure(tolerance_pa, None, system)
            yield (
                f"{name} by the maker's table",
                f"{value} ± {tolerance}",
                source(name.replace(" ", "_")),
            )
    if table.discharge_temp_k is not None:
        value = display.temperature(table.discharge_temp_k, system)
        tolerance = display.difference(table.discharge_tolerance_k, system)
        yield (
            "discharge temperature by the maker's table",
            f"{value} ± {tolerance}",
            source("discharge_temperature"),
        )
    if table.air_split_k is not None:
        value = display.difference(table.air_split_k, system)
        tolerance = display.difference(table.split_tolerance_k, system)
        yield (
            "temperature split by the maker's table",
            f"{value} ± {tolerance}",
            source("air_split"),
        )


def _processing(job: Job, system: UnitSystem) -> Iterator[Row]:
    """Yield the settled band of a record that does not have it among its limits."""
    if job.limit(LimitKey.SETTLED_BAND) is None:
        band_k = job.processing.settled_band_k
        source = "not said in this record"
        yield LimitKey.SETTLED_BAND.words, display.difference(band_k, system), source
