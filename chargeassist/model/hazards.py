"""Hazards of the job; each caution is acknowledged once, by a mark in the record."""

from enum import StrEnum


class Hazard(StrEnum):
    """A hazard; the values stand in marks."""

    HEIGHT = "height"
    ELECTRICITY = "electricity"
    NITROGEN = "nitrogen"
    PRESSURE = "pressure"
    VACUUM = "vacuum"
    IGNITION = "ignition"
    BURNS = "refrigerant_burns"

    @property
    def label(self) -> str:
        """The hazard in plain words."""
        return _LABEL[self]


_LABEL = {
    Hazard.HEIGHT: "work at a height",
    Hazard.ELECTRICITY: "electricity and stored charge",
    Hazard.NITROGEN: "nitrogen",
    Hazard.PRESSURE: "pressure",
    Hazard.VACUUM: "compressor in a vacuum",
    Hazard.IGNITION: "refrigerant that burns",
    Hazard.BURNS: "cold burns by refrigerant",
}


def hazard_label(text: str) -> str:
    """Return the hazard a mark names, in plain words; an unknown name as it is."""
    hazard = known_hazard(text)
    return text.replace("_", " ") if hazard is None else hazard.label


def known_hazard(text: str) -> Hazard | None:
    """Return the hazard a mark names; None if there is none of that name."""
    try:
        return Hazard(text)
    except ValueError:
        return None
