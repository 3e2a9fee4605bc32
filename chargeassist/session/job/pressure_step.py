"""A step of a nitrogen test as it is written: "1.5 MPa(g) for 3 min"."""

from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.stage_plan import PressureStep
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference, parse, parse_pressure
from chargeassist.session.job.toml_table import TomlTable

_PRESSURES_PA_GAUGE = (1e4, 2e7)
_HOLDS_S = (10.0, 7.0 * 86_400.0)


def pressure_step(table: TomlTable, key: str, text: str, source: str) -> PressureStep:
    """Return the step that `text` describes.

    Parameters
    ----------
    table : TomlTable
    key : str
        Where `text` stands in it; for errors.
    text : str
    source : str
        Where the step was read.

    Raises
    ------
    ConfigError
        If it is no gauge pressure with a time, or one that nobody holds.
    """
    pressure, _, hold = text.partition(" for ")
    try:
        pressure_pa, _ = parse_pressure(pressure, Reference.GAUGE)
        hold_s = parse(hold, Quantity.DURATION)
    except UnitError as error:
        raise ConfigError(
            f'{table.where(key)}: expected "1.5 MPa(g) for 3 min", got {plain(text, 60)!r}: {error}'
        ) from error
    low_pa, high_pa = _PRESSURES_PA_GAUGE
    shortest_s, longest_s = _HOLDS_S
    if not low_pa <= pressure_pa <= high_pa or not shortest_s <= hold_s <= longest_s:
        raise table.error(
            key, "expected 0.01 to 20 MPa(g), held for 10 s to 7 days", repr(plain(text, 60))
        )
    return PressureStep(pressure_pa_gauge=pressure_pa, hold_s=hold_s, source=source)
