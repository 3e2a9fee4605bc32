"""The cautions: one text for each hazard, with its source."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.stages.words import Phrase, StageWords
from chargeassist.model.hazards import Hazard, known_hazard

PREFIX: Final = "caution_"
"""Prefix of the cause of a caution; the hazard's name follows."""

DEFERS: Final = "plate, instructions, local code and licensed practice come first"

_PRACTICE: Final = "common practice, no published source"


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionText:
    """The text of one hazard.

    Attributes
    ----------
    text : str
        One clause; `DEFERS` follows it wherever it is shown.
    source : str
    from_memory : bool
        Whether the text was written without reading the source.
    """

    text: str
    source: str
    from_memory: bool = False

    @property
    def citation(self) -> str:
        """The source in one line."""
        return f"{self.source}, from memory" if self.from_memory else self.source


TEXTS: Final[Mapping[Hazard, CautionText]] = {
    Hazard.HEIGHT: CautionText(
        text="the unit stands on a roof or at a height: protection against falling, a ladder that "
        "is held or tied, nothing loose at the edge, no work in wind or lightning",
        source="29 CFR 1910 subpart D and 1926 subpart M",
        from_memory=True,
    ),
    Hazard.ELECTRICITY: CautionText(
        text="before a cover comes off: disconnect, lock, verify; capacitors and the drive stay "
        "charged, wait the time on the panel and measure; fans start by themselves",
        source="29 CFR 1910.147; WAC 296-24-975 "
        "(law.cornell.edu/regulations/washington/WAC-296-24-975)",
    ),
    Hazard.NITROGEN: CautionText(
        text="dry nitrogen only, never oxygen or air: they explode with oil; a regulator, and a "
        "relief valve set above the test pressure; ventilate, nitrogen takes the place of air",
        source="ASHRAE 15-1994, 10.1.2 (interim action); oil: manualshive.com/ru/manual/lennox/"
        "hsxa19-series/1876910, page 15",
    ),
    Hazard.PRESSURE: CautionText(
        text="never more than the plate states, hoses rated for it; raise slowly with people "
        "away; no joint is loosened while there is pressure behind it",
        source=_PRACTICE,
    ),
    Hazard.VACUUM: CautionText(
        text="the compressor stays off and cannot be started while the circuit is under vacuum: "
        "it arcs inside; a vacuum does not replace the pressure test",
        source="manualshive.com/ru/manual/lennox/spbh4-series/1877815, page 20",
    ),
    Hazard.IGNITION: CautionText(
        text="this refrigerant burns: no flame or spark, nor at the pump's outlet; ventilate, "
        "detector on, short hoses, earth the system first, tools made for it",
        source="IEC 60335-2-40 annex DD as printed in manualslib.fr/manual/1150913, page 10",
    ),
    Hazard.BURNS: CautionText(
        text="liquid refrigerant freezes skin and eyes: gloves and goggles on, also when hoses "
        "come off; ventilate, heavy vapour takes the place of air",
        source="equipment manual, manualshive.com/ru/manual/data-aire/gpod/3604155, page 42",
    ),
}
"""By hazard. No text contains a number: numbers are the plate's and the code's."""


def caution_text(hazard: Hazard) -> str:
    """Return the whole caution, ending with what it defers to."""
    return f"{TEXTS[hazard].text}; {DEFERS}"


def hazard_of(cause: str) -> Hazard | None:
    """Return the hazard of an instruction that is a caution; None for any other cause."""
    return known_hazard(cause.removeprefix(PREFIX)) if cause.startswith(PREFIX) else None


def _whole(hazard: Hazard) -> Phrase:
    return lambda f, s, u: caution_text(hazard)


WORDS = StageWords(
    headlines={},
    reasons={PREFIX + hazard.value: _whole(hazard) for hazard in Hazard},
    rows={
        "cautions": (
            "cautions",
            lambda f, s, u: (
                f"{f['read']:.0f} of {f['met']:.0f} acknowledged" + (f"; never: {s}" if s else "")
            ),
        )
    },
    checks={"cautions": "cautions acknowledged"},
    findings={
        "cautions_read": lambda f, s, u: f"all {f['met']:.0f} that arose",
        "cautions_unread": lambda f, s, u: (
            f"{f['read']:.0f} of {f['met']:.0f} that arose; never: {s}"
        ),
    },
)
"""Words of the cautions themselves, and of their row and check in the close-out."""
