"""``job new`` on a real terminal: questions, a refusal, going back, Ctrl-C, and the file."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from chargeassist.model.limits import LimitKey
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.job.questions import next_question
from tests.peers.terminal import OnTerminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

ANSWERS = {
    "name": "Weir Cottage, kitchen",
    "refrigerant": "R-32",
    "site.altitude": "690 ft",
    "site.place": "roof",
    "target.method": "subcooling",
    "target.subcooling": "9 °F",
    "target.source": "charging label",
    "target.tolerance": "2 °F",
    "charge.plate": "5 lb",
    "charge.step_cap": "4 oz",
    "more": "y",
    "conditions.outdoor_low": "60 °F",
    "conditions.source": "installation manual, page 12",
    "source.1.adapter": "serial",
    "source.1.url": "serial:/dev/ttyUSB0",
    "source.1.liquid_pressure.unit": "psig",
    "source.1.liquid_pressure.high": "800 psig",
    "change": "y",
    "overrides.1.group": "readings by hand",
    "overrides.1.limit": "hand_pace",
    "overrides.1.value": "45 s",
    "overrides.source": "house rule 7",
}


class Asked(OnTerminal):
    """`job new` with a terminal for input and output."""

    def __init__(self, folder: Path) -> None:
        super().__init__("job", "new", "job.toml", folder=folder)

    def prompted(self, key: str) -> str:
        """Return what was printed up to the prompt of `key`."""
        self.until(lambda seen: f"{key}> " in seen)
        before, prompt, self.seen = self.seen.partition(f"{key}> ")
        assert prompt, f"{key} was not asked: {before[-400:]}"
        return before

    def answer(self, text: str) -> None:
        self.press(f"{text}\n")


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[Asked]:
    with Asked(tmp_path) as program:
        yield program


def test_a_job_is_made_on_a_terminal(asked: Asked, tmp_path: Path) -> None:
    given: dict[str, str] = {}
    while (question := next_question(given)) is not None:
        asked.prompted(question.key)
        if question.key == "target.subcooling":
            asked.answer("")
            assert "a target is never filled in" in asked.prompted(question.key)
            asked.answer("b")
            asked.prompted("profile")
            asked.answer("")
            asked.prompted(question.key)
        text = ANSWERS.get(question.key, "")
        asked.answer(text)
        given[question.key] = text or question.default
    assert asked.ended() == 0
    assert "written: job.toml" in asked.seen
    assert "2 stages miss something needed" in asked.seen
    job = load_job(tmp_path / "job.toml")
    assert job.name == "Weir Cottage, kitchen"
    assert job.target.subcooling_k == pytest.approx(5.0)
    assert job.site.at_height
    limit = job.limit(LimitKey.OUTDOOR_LOW)
    assert limit is not None
    assert limit.citation == "installation manual, page 12 (equipment instructions)"
    pace = job.limit(LimitKey.HAND_PACE)
    assert pace is not None
    assert (pace.value_si, pace.source) == (45.0, "set in this job: house rule 7")
    lines = (tmp_path / "job.toml").read_text(encoding="utf-8").splitlines()
    (set_here,) = [line for line in lines if line.startswith("hand_pace")]
    assert "instead of 60 s; default of this program" in set_here
    # Every other default stands there to be edited, with its source.
    others = [line for line in lines if line.startswith('# settled_band = "0.3 K"')]
    assert "default of this program: assumption, no published source" in others[-1]
    said = " ".join(asked.seen.split())
    assert "45 s, set in this job: house rule 7 (rule of thumb); in the place of 60 s" in said
    # What was written is read again without complaint; only what is missing is told.
    again = subprocess.run(
        [sys.executable, "-m", "chargeassist", "job", "check", "job.toml"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert again.returncode in {0, 1}
    assert again.stderr == ""


def test_ctrl_c_leaves_and_writes_nothing(asked: Asked, tmp_path: Path) -> None:
    asked.prompted("name")
    asked.answer("Weir Cottage")
    asked.prompted("refrigerant")
    asked.press("\x03")
    assert asked.ended() == 130
    assert "nothing was written" in asked.seen
    assert list(tmp_path.iterdir()) == []
