"""Draw the session of a scenario into a file."""

from pathlib import Path

from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Stage
from chargeassist.pictures.charging import charging_picture
from chargeassist.pictures.stages import dryness_picture, tightness_picture
from chargeassist.pictures.told import Told


def draw(told: Told, path: Path, system: UnitSystem) -> None:
    """Draw `told` as its stage is drawn and write it to `path`.

    Raises
    ------
    ConfigError
        It cannot be written there.
    """
    match told.scenario.stage:
        case Stage.TIGHTNESS:
            frame = tightness_picture(told, system)
        case Stage.DRYNESS:
            frame = dryness_picture(told, system)
        case _:
            frame = charging_picture(told, system)
    frame.save(path)
