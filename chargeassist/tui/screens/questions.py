"""The questions behind the keys, worded for the units shown."""

from collections.abc import Callable
from functools import partial

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.session.typed_time import Now
from chargeassist.stream.facts import ChargeStep
from chargeassist.tui import answers
from chargeassist.tui.answers import Amount, Held
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.ask import NUMBER_FIRST, Ask


def step_ends(scene: Scene) -> Ask[Amount]:
    """Return the question how much went in; may stay empty where the cylinder's scale delivers.

    It follows the scale while it stands open, and says so where the scale has ended the step.
    """
    ask: Ask[Amount] = Ask(
        scene,
        "The charge step ends",
        _how_much,
        lambda text: answers.amount(text, system=scene.system, scale=_by_scale(ask.scene)),
        restrict=NUMBER_FIRST,
        doubt=_doubt(scene),
    )
    return ask


def _by_scale(scene: Scene) -> bool:
    return scene.snapshot is not None and scene.snapshot.scale_heard


def _how_much(scene: Scene) -> str:
    prompt = f"Amount added, {_examples(scene.system)}."
    if scene.snapshot is None or not _by_scale(scene):
        return prompt
    step, ledger = scene.snapshot.facts.step_open, scene.snapshot.facts.ledger
    if step is None and not scene.step_open and ledger and ledger[-1].measured_by == "scale":
        mass_kg = ledger[-1].mass_kg
        said = "" if mass_kg is None else f" at {display.mass(mass_kg, scene.system)}"
        return f"{prompt} The scale has ended the step{said}: leave it empty to keep that."
    known = step is not None and step.so_far_kg is not None
    so_far = (
        f" (so far {display.mass(step.so_far_kg or 0.0, scene.system)})" if known and step else ""
    )
    return f"{prompt} Leave it empty to take it from the scale{so_far}."


def amount_of_last(scene: Scene) -> Ask[Amount]:
    """Return the question for the amount of the step that has ended without it."""
    step = answers.lacking_amount(scene.snapshot)
    return Ask(
        scene,
        "Amount of the last step" if step is None else f"Amount of step {step.number}",
        f"Amount added, from the scale's display, {_examples(scene.system)}.",
        partial(answers.amount, system=scene.system, scale=False),
        restrict=NUMBER_FIRST,
        doubt=_doubt(scene),
    )


def recovered(scene: Scene, step: ChargeStep | None = None) -> Ask[Amount]:
    """Return the question how much came out, of an earlier `step` or of one that is told now."""
    title = "Refrigerant was recovered"
    return Ask(
        scene,
        title if step is None else f"{title}: amount of step {step.number}",
        f"Amount that came out, without a minus, {_examples(scene.system)}.",
        partial(answers.recovered, system=scene.system),
        restrict=NUMBER_FIRST,
        doubt=_doubt(scene),
    )


def frequency_held(scene: Scene, now: Callable[[], Now]) -> Ask[Held]:
    """Return the question which frequency the unit shows, filled in with the one required."""
    required = scene.job.hold.required_hz
    asked = "" if required is None else f" The job asks for {required:g} Hz."
    example = f"{72.0 if required is None else required:g} Hz, 12 min ago"
    return Ask(
        scene,
        "The compressor is held at its frequency",
        f"Frequency the unit shows, in Hz.{asked} Held for a while already: {example}.",
        partial(answers.frequency_held, now=now),
        prefill="" if required is None else f"{required:g}",
        restrict=NUMBER_FIRST,
    )


def note(scene: Scene) -> Ask[str]:
    """Return the question for a note."""
    return Ask(scene, "Note", "For the record, up to 300 characters.", answers.note)


def why_skipped(scene: Scene, stage: str) -> Ask[str]:
    """Return the question why a stage is skipped; it must be answered."""
    prompt = "Who decided it, or what shows that it is not needed; it stands in record and report."
    return Ask(scene, f"Why is {stage} skipped?", prompt, answers.note)


def why_without(scene: Scene, condition: str) -> Ask[str]:
    """Return the question why one goes on without a condition; it must be answered."""
    prompt = "Who decided it, and why; it stands in record and report, and no reading is final."
    return Ask(scene, f"Why go on without: {condition}?", prompt, answers.note)


def drill_amount(scene: Scene, verb: str) -> Ask[Amount]:
    """Return the question how much a trainee adds or recovers."""
    example = "3 oz" if scene.system is UnitSystem.US else "85 g"
    return Ask(
        scene,
        f"{verb}: how much?",
        f"Amount, such as {example}, or a number in {answers.mass_unit(scene.system)}.",
        partial(answers.dose, system=scene.system),
        restrict=NUMBER_FIRST,
        doubt=_doubt(scene),
    )


def note_beside(scene: Scene) -> Ask[str]:
    """Return the question for an instructor's note."""
    return Ask(scene, "Note", "Kept beside the recording, up to 300 characters.", answers.note)


def _examples(system: UnitSystem) -> str:
    example = "3 oz" if system is UnitSystem.US else "85 g"
    unit = answers.mass_unit(system)
    return f"such as {example}; a number alone is in {unit}; ? if nobody knows"


def _doubt(scene: Scene) -> "partial[str]":
    return partial(answers.doubt, full_kg=scene.job.charge.full_kg, system=scene.system)
