"""What a peer does beside a test, for as long as the test needs it."""

import asyncio
from collections.abc import AsyncIterator, Coroutine
from contextlib import asynccontextmanager
from typing import Any


@asynccontextmanager
async def meanwhile(*works: Coroutine[Any, Any, object]) -> AsyncIterator[None]:
    """Let `works` go on beside what is done inside, and end them after it; raise what broke one.

    asyncio.wait_for of Python 3.11, in aiomqtt, loses a cancellation that comes together with the
    broker's answer: so they are cancelled until they have ended.
    """
    tasks = going = {asyncio.create_task(work) for work in works}
    try:
        yield
    finally:
        while going:
            for task in going:
                task.cancel()
            _, going = await asyncio.wait(going, timeout=0.2)
    for task in tasks:
        if not task.cancelled():
            task.result()
