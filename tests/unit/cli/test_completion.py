"""The completion script, asked in a real shell."""

import shutil
import subprocess
from pathlib import Path

import pytest

from chargeassist.cli.completion import SHELLS
from chargeassist.cli.main import main


@pytest.fixture
def script(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert main(["completion", "bash"]) == 0
    path = tmp_path / "completion.bash"
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    return path


def completed(script: Path, *words: str) -> set[str]:
    typed = " ".join(f"'{word}'" for word in words)
    bash = shutil.which("bash")
    assert bash is not None
    done = subprocess.run(
        [
            *(bash, "--norc", "-c"),
            f"source {script}; COMP_WORDS=({typed}); COMP_CWORD={len(words) - 1}; "
            '_shtab_chargeassist; printf "%s\\n" "${COMPREPLY[@]}"',
        ],
        capture_output=True,
        text=True,
        check=True,
        cwd=script.parent,
    )
    return set(done.stdout.split())


def test_bash_completes_commands_options_choices_and_files(script: Path) -> None:
    (script.parent / "job-417.session").write_text("", encoding="utf-8")
    assert completed(script, "chargeassist", "ve") == {"verify"}
    assert {"demo", "live", "replay", "job"} <= completed(script, "chargeassist", "")
    assert completed(script, "chargeassist", "fleet", "re") == {"recompute"}
    assert completed(script, "chargeassist", "demo", "--un") == {"--units"}
    assert completed(script, "chargeassist", "demo", "--units", "u") == {"us"}
    assert "job-417.session" in completed(script, "chargeassist", "verify", "job")


@pytest.mark.parametrize(
    "words", ["simulate", "drill", "profiles", "fleet query", "fleet add a.zip --to", "serve live"]
)
def test_bash_completes_files_wherever_one_may_stand(words: str, script: Path) -> None:
    (script.parent / "mine.toml").write_text("", encoding="utf-8")
    assert "mine.toml" in completed(script, "chargeassist", *words.split(), "mi")


@pytest.mark.parametrize("shell", SHELLS)
def test_every_shell_gets_a_script_that_knows_the_commands(
    shell: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["completion", shell]) == 0
    said = capsys.readouterr().out
    assert "saturation" in said
    assert "recompute" in said
