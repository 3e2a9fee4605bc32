"""Where a session file that was taken away is written anew."""

from pathlib import Path

import pytest

from chargeassist.session.record.place import take_place


@pytest.mark.parametrize(
    ("there", "taken"),
    [
        ([], "roof.session"),
        (["roof.session"], "roof-2.session"),
        (["roof.session", "roof-2.session"], "roof-3.session"),
        (["roof.session-journal"], "roof-2.session"),
    ],
)
def test_the_copy_takes_the_name_or_the_next_free_one(
    tmp_path: Path, there: list[str], taken: str
) -> None:
    for name in there:
        (tmp_path / name).write_text("another")
    copy = tmp_path / "roof.session.new"
    copy.write_text("ours")
    assert take_place(copy, tmp_path / "roof.session") == tmp_path / taken
    assert (tmp_path / taken).read_text() == "ours"
    assert all((tmp_path / name).read_text() == "another" for name in there)


def test_a_name_that_ends_in_a_number_keeps_it(tmp_path: Path) -> None:
    """ "job-1" and its copy must not look like a second job."""
    copy = tmp_path / "job-1.session.new"
    copy.write_text("ours")
    (tmp_path / "job-1.session").write_text("another")
    assert take_place(copy, tmp_path / "job-1.session").name == "job-1-2.session"


def test_nothing_is_overwritten_where_every_name_is_taken(tmp_path: Path) -> None:
    for ending in ("", *(f"-{n}" for n in range(2, 1000))):
        (tmp_path / f"a{ending}.session").touch()
    copy = tmp_path / "a.session.new"
    copy.write_text("ours")
    with pytest.raises(FileExistsError, match="taken"):
        take_place(copy, tmp_path / "a.session")
    assert copy.read_text() == "ours"
