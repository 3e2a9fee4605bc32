"""Names that the system refuses are told in words by every command, with exit code 2."""

import pytest

from chargeassist.cli.main import main

LONG = "n" * 300


@pytest.mark.parametrize(
    "words",
    [
        ("verify", LONG),
        ("audit", LONG),
        ("debrief", LONG),
        ("drill", LONG),
        ("report", "record", "--to", f"{LONG}.html"),
        ("archive", "record", "--to", f"{LONG}.zip"),
    ],
    ids=lambda words: words[0],
)
def test_a_name_that_is_too_long_is_refused_in_words(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(list(words)) == 2
    told = capsys.readouterr().err
    assert "name too long" in told
    assert "Traceback" not in told
