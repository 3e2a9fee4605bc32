"""The target of a job file: subcooling, or superheat for a fixed orifice.

::

    [target]
    method = "superheat"
    source = "published superheat table; the unit's own chart is lost"
    # superheat = "8 °F"              the maker's number instead of the table
    # tolerance = "5 °F"              the profile's when left out
    # return_wet_bulb = "63 °F"       where no probe measures it
    # return_wet_bulb_source = "sling psychrometer at the return, 10:40"

Either may name an approach (liquid line over outdoor air) as a cross-check::

    approach = "9 °F"
    approach_tolerance = "1 °F"
    approach_source = "unit's table, page 8"
"""

from dataclasses import replace

from chargeassist.model.job import Target
from chargeassist.model.judged import JUDGED
from chargeassist.model.limits import LimitKey, Method
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity
from chargeassist.session.job.limits import JobLimits
from chargeassist.session.job.toml_table import TomlTable

_DIFFERENCE = Quantity.TEMPERATURE_DIFFERENCE
_USUAL = Target(tolerance_k=1.0, source="usual")


def read_method(top: TomlTable) -> Method:
    """Return the method by which the job file `top` judges its charge.

    Raises
    ------
    ConfigError
        If it is not one of those a charge can be judged by here.
    """
    table = top.table("target")
    return Method(table.choice("method", tuple(JUDGED), default=Method.SUBCOOLING))


def read_target(table: TomlTable, method: Method, limits: JobLimits) -> Target:
    """Return the ``[target]`` of a job file.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    table.get("method")
    source = plain(table.text("source"))
    if not source.strip():
        raise table.error("source", "expected where the target was read", "nothing")
    if method is Method.SUPERHEAT:
        target = _superheat(table, source, limits)
    else:
        target = _subcooling(table, source, limits)
    if target.superheat_low_k >= target.superheat_high_k:
        raise table.error(
            "superheat_low",
            f"expected less than superheat_high, {target.superheat_high_k:g} K",
            f"{target.superheat_low_k:g} K",
        )
    target = _with_approach(table, target, limits)
    table.finish()
    return target


def _with_approach(table: TomlTable, target: Target, limits: JobLimits) -> Target:
    """Return the target with its cross-check, if the job names one."""
    key = LimitKey.APPROACH_TOLERANCE
    source = plain(table.text("approach_source", default=target.source))
    own = table.get("approach_tolerance") is not None
    tolerance_k = table.quantity_between(
        "approach_tolerance",
        _DIFFERENCE,
        0.1,
        5.0,
        limits.value(key, _USUAL.approach_tolerance_k),
    )
    if table.get("approach") is None:  # `job check` says that nothing is cross-checked
        named = source if table.get("approach_source") is not None else ""
        return replace(target, approach_tolerance_k=tolerance_k, approach_source=named)
    if not own and limits.has(key):
        source = f"{source}; tolerance: {limits.citation(key)}"
    return replace(
        target,
        approach_k=table.quantity_between("approach", _DIFFERENCE, 0.5, 20.0),
        approach_tolerance_k=tolerance_k,
        approach_source=source,
    )


def _subcooling(table: TomlTable, source: str, limits: JobLimits) -> Target:
    tolerance_k, tolerance_source = _tolerance(table, Method.SUBCOOLING, limits)
    low_k, high_k, range_source = _superheat_range(table, limits)
    return Target(
        method=Method.SUBCOOLING,
        subcooling_k=table.quantity_between("subcooling", _DIFFERENCE, 0.2, 40.0),
        tolerance_k=tolerance_k,
        tolerance_source=tolerance_source,
        source=source,
        superheat_low_k=low_k,
        superheat_high_k=high_k,
        superheat_source=range_source,
    )


def _superheat(table: TomlTable, source: str, limits: JobLimits) -> Target:
    tolerance_k, tolerance_source = _tolerance(table, Method.SUPERHEAT, limits)
    low_k, high_k, range_source = _superheat_range(table, limits)
    number_k = table.optional_between("superheat", _DIFFERENCE, 1.0, 40.0)
    wet_bulb_k = table.optional_between("return_wet_bulb", Quantity.TEMPERATURE, 268.15, 313.15)
    told_by = plain(table.text("return_wet_bulb_source", default=""))
    if wet_bulb_k is not None and not told_by.strip():
        raise table.error(
            "return_wet_bulb_source", "expected how the wet bulb was measured", "nothing"
        )
    if number_k is not None and number_k <= low_k:
        raise table.error(
            "superheat", "expected more than superheat_low", f"{number_k:g} against {low_k:g} K"
        )
    own_high, highest = table.get("subcooling_high") is not None, LimitKey.SUBCOOLING_HIGH
    return Target(
        method=Method.SUPERHEAT,
        superheat_k=number_k,
        tolerance_k=tolerance_k,
        tolerance_source=tolerance_source,
        source=source,
        return_wet_bulb_k=wet_bulb_k,
        return_wet_bulb_source=told_by,
        superheat_low_k=low_k,
        superheat_high_k=high_k,
        superheat_source=range_source,
        subcooling_high_k=table.quantity_between(
            "subcooling_high", _DIFFERENCE, 1.0, 40.0, limits.one(highest).value_si
        ),
        subcooling_source=plain(
            table.text(
                "subcooling_source",
                default="job file" if own_high else limits.one(highest).citation,
            )
        ),
    )


def _tolerance(table: TomlTable, method: Method, limits: JobLimits) -> tuple[float, str]:
    """Return the tolerance [K] and where it was read: in the job, else in its profile."""
    key = JUDGED[method].tolerance
    own = table.get("tolerance") is not None
    value_k = table.quantity_between("tolerance", _DIFFERENCE, 0.05, 10.0, limits.value(key))
    return value_k, "job file" if own else limits.citation(key)


def _superheat_range(table: TomlTable, limits: JobLimits) -> tuple[float, float, str]:
    usual_source = _USUAL.superheat_source
    if limits.has(LimitKey.SUPERHEAT_LOW) and limits.has(LimitKey.SUPERHEAT_HIGH):
        usual_source = limits.citation(LimitKey.SUPERHEAT_HIGH)
    low_k = table.quantity_between(
        "superheat_low",
        _DIFFERENCE,
        0.0,
        60.0,
        limits.value(LimitKey.SUPERHEAT_LOW, _USUAL.superheat_low_k),
    )
    high_k = table.quantity_between(
        "superheat_high",
        _DIFFERENCE,
        0.0,
        60.0,
        limits.value(LimitKey.SUPERHEAT_HIGH, _USUAL.superheat_high_k),
    )
    own = any(table.get(key) is not None for key in ("superheat_low", "superheat_high"))
    source = plain(table.text("superheat_source", default="job file" if own else usual_source))
    return low_k, high_k, source
