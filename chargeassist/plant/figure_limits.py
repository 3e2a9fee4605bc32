"""Figures that a simulation is made of: refused where they are outside what it can run with."""

from collections.abc import Iterable

from chargeassist.model.errors import ConfigError

Figure = tuple[str, float, float, float, str]
"""Name in words, value, lowest, highest, and the unit that all three are in."""


def refuse_outside(what: str, figures: Iterable[Figure]) -> None:
    """Refuse the first figure that is outside its limits, or no number.

    Parameters
    ----------
    what : str
        Whose figures they are and what it needs, "the simulated pump needs": begins the error.
    figures : iterable of Figure

    Raises
    ------
    ConfigError
        Naming the figure, its limits and what came.
    """
    for name, value, low, high, unit in figures:
        if not low <= value <= high:
            of = f" {unit}" if unit else ""
            raise ConfigError(f"{what} {name} from {low:g} to {high:g}{of}, came {value:g}{of}")
