"""Quantities on the command line that have no sign: times, capacities, uncertainties."""

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import Quantity, parse


def size(text: str, quantity: Quantity, name: str, *, zero: bool = True) -> float:
    """Return what an argument says [SI].

    Parameters
    ----------
    text : str
    quantity : Quantity
    name : str
        Of the argument, for the refusal.
    zero : bool
        Whether 0 will do.

    Raises
    ------
    ConfigError
        If it is no such quantity, or too small.
    """
    value_si = parse(text, quantity)
    if value_si < 0.0 or (value_si == 0.0 and not zero):
        least = "0 or more" if zero else "more than 0"
        raise ConfigError(f"{name}: expected {least}, got {text}")
    return value_si
