"""The questions behind the keys, worded for the units shown."""

from functools import partial

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.tui import answers
from chargeassist.tui.answers import Amount
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.ask import NUMBER_FIRST, Ask


def step_ends(scene: Scene, *, scale: bool) -> Ask[Amount]:
    """Return the question how much went in; `scale`: the cylinder's scale delivers."""
    prompt = f"Amount added: {_examples(scene.system)}."
    if scale:
        step = None if scene.snapshot is None else scene.snapshot.facts.step_open
        so_far = (
            ""
            if step is None or step.so_far_kg is None
            else f" (so far {display.mass(step.so_far_kg, scene.system)})"
        )
        prompt = f"{prompt} Leave it empty to take it from the scale{so_far}."
    return Ask(
        scene,
        "The charge step ends",
        prompt,
        partial(answers.amount, system=scene.system, scale=scale),
        restrict=NUMBER_FIRST,
        doubt=_doubt(scene),
    )


def recovered(scene: Scene) -> Ask[Amount]:
    """Return the question how much came out."""
    return Ask(
        scene,
        "Refrigerant was recovered",
        f"Amount that came out, without a minus: {_examples(scene.system)}.",
        partial(answers.recovered, system=scene.system),
        restrict=NUMBER_FIRST,
        doubt=_doubt(scene),
    )


def frequency_held(scene: Scene) -> Ask[float]:
    """Return the question which frequency the unit shows, filled in with the one required."""
    required = scene.job.hold.required_hz
    asked = "" if required is None else f" The job asks for {required:g} Hz."
    return Ask(
        scene,
        "The compressor is held at its frequency",
        f"Frequency the unit shows, in Hz.{asked}",
        answers.frequency,
        prefill="" if required is None else f"{required:g}",
        restrict=NUMBER_FIRST,
    )


def note(scene: Scene) -> Ask[str]:
    """Return the question for a note."""
    return Ask(scene, "Note", "For the record, up to 300 letters.", answers.note)


def _examples(system: UnitSystem) -> str:
    example = "3 oz" if system is UnitSystem.US else "85 g"
    return f"{example}, or a number in {answers.mass_unit(system)}; ? if nobody knows"


def _doubt(scene: Scene) -> "partial[str]":
    return partial(answers.doubt, full_kg=scene.job.charge.full_kg, system=scene.system)
