"""One question of a job file."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    Attributes
    ----------
    key : str
        Of the job file: "target.subcooling"; of a probe: "source.1.liquid_pressure.unit".
    ask : str
    example : str
        An answer as it may be typed; shown, and written into the file beside a key left out.
    where : str
        Where the answer is read.
    default : str
        Taken for a blank answer; only where it is no limit.
    needed : bool
        A blank answer is refused.
    choices : tuple of str
        The only answers there are; empty where any may come.
    """

    key: str
    ask: str
    example: str
    where: str = ""
    default: str = ""
    needed: bool = False
    choices: tuple[str, ...] = ()


def asked(key: str, ask: str, example: str, where: str = "", *, needed: bool = False) -> Question:
    """Return a question any text may answer."""
    return Question(key=key, ask=ask, example=example, where=where, needed=needed)


def choice(
    key: str, ask: str, choices: tuple[str, ...], where: str = "", *, needed: bool = False
) -> Question:
    """Return a question with a few answers."""
    return Question(
        key=key, ask=ask, example=choices[0], where=where, needed=needed, choices=choices
    )
