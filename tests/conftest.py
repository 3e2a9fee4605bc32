"""What every test gets: no task left behind, no random examples, no chance of a network."""

import asyncio
import os
import shutil
import signal
from collections.abc import AsyncIterator, Callable
from typing import ClassVar

import pytest
import pytest_asyncio
from hypothesis import settings
from xdist.remote import Producer
from xdist.scheduler import LoadFileScheduling

# Every run tries the same examples: a red test is red for everyone.
settings.register_profile("house", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("house")

# Where a job names no units the reader's locale does; every run reads the same.
os.environ["LC_ALL"] = "C.UTF-8"


def pytest_configure() -> None:
    """Heed Ctrl-C, and let the programs that tests start heed it.

    What a shell starts in the background ignores it, and hands that on to all it starts.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


class ByFile(LoadFileScheduling):  # type: ignore[misc]  # xdist brings no types
    """Shares work out by the file, so that what a file's tests share is computed once.

    Some folders go to one worker whole: `live` waits for real time, one test after the other
    whatever else runs; `scenarios` and `unit/qa` share the sessions they look at. A
    file of few tests is begun last, so those of few long ones go with a folder that is begun first.
    """

    WHOLE = ("tests/live/", "tests/scenarios/", "tests/unit/qa/")
    LONG: ClassVar[dict[str, str]] = {
        "tests/campaign/test_campaign.py": "tests/unit/qa/",
        "tests/tui/test_charge_by_hand.py": "tests/unit/qa/",
        "tests/tui/test_by_hand.py": "tests/scenarios/",
        "tests/tui/test_stages.py": "tests/scenarios/",
        "tests/tui/test_wiring.py": "tests/scenarios/",
    }

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        if file in self.LONG:
            return self.LONG[file]
        whole = next((folder for folder in self.WHOLE if nodeid.startswith(folder)), None)
        return whole or str(super()._split_scope(nodeid))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> ByFile:
    """Let `-n` share work out by the file."""
    return ByFile(config, log)


@pytest_asyncio.fixture(autouse=True)
async def no_task_left_behind() -> AsyncIterator[None]:
    """Fail a test that leaves a task running."""
    yield
    left = [
        task
        for task in asyncio.all_tasks()
        if task is not asyncio.current_task() and not task.done()
    ]
    names = [task.get_name() for task in left]
    for task in left:
        task.cancel()
    await asyncio.gather(*left, return_exceptions=True)
    assert not names, f"the test left tasks running: {names}"


@pytest.fixture(scope="session")
def need_program() -> Callable[[str, str], str]:
    """Return a function that finds a program a test needs, by name and Debian package.

    Where the program is missing the test fails in CI and is skipped elsewhere.
    """

    def find(name: str, package: str) -> str:
        path = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/bin")
        if path is None:
            text = f"{name} is not installed (Debian package {package})"
            if os.environ.get("CI"):
                pytest.fail(text)
            pytest.skip(text)
        return path

    return find
