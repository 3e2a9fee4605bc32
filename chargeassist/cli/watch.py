"""``watch``: a session elsewhere, to be looked at and nothing else."""

import argparse
import asyncio
import os
import time

from chargeassist.cli.as_json import json_text
from chargeassist.cli.plain_output import complain
from chargeassist.cli.printer import Printer
from chargeassist.cli.shown import on_screen, usual_units
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import PublishedError
from chargeassist.session.board import Board, make_board
from chargeassist.session.published import read_pack
from chargeassist.session.watching import Watched


def watch(arguments: argparse.Namespace) -> int:
    """Show a session until it has ended or one leaves."""
    board = make_board(arguments.address)
    system = UnitSystem(arguments.units or usual_units(os.environ))
    if on_screen(as_text=arguments.lines or arguments.json):
        from chargeassist.tui.watching import WatchScreen

        WatchScreen(board, system).run()
        return 0
    asyncio.run(_lines(board, system, as_json=arguments.json))
    return 0


async def _lines(board: Board, system: UnitSystem, *, as_json: bool) -> None:
    watched = Watched()
    over = asyncio.Event()
    write = Printer()
    write.on_failure = over.set
    told = ""

    def trouble(text: str) -> None:
        nonlocal told
        if text != told:  # a broker that is away is tried again every few seconds
            complain(f"chargeassist: {text}")
        told = text

    def hear(subject: str, payload: bytes) -> None:
        nonlocal told
        told = ""
        news = watched.hear(subject, payload, time.monotonic())
        if as_json:
            try:
                write(json_text({"subject": subject, "told": read_pack(payload)}, one_line=True))
            except PublishedError as error:
                complain(f"chargeassist: {error}")
        elif news:
            words = watched.words
            settling = words.get("settling", "")
            write(f"{words.get(f'sentence/{system.value}', '')}  [{settling}]")
        if watched.ended and watched.running:
            over.set()
        elif watched.ended and news and not as_json:
            write("that session has ended; waiting for the next one here")

    listening = asyncio.create_task(board.watch(hear, trouble))
    ending = asyncio.create_task(over.wait())
    try:
        await asyncio.wait({listening, ending}, return_when=asyncio.FIRST_COMPLETED)
        if listening.done():
            listening.result()
    finally:
        for task in (listening, ending):
            task.cancel()
        await asyncio.gather(listening, ending, return_exceptions=True)
    write.tell_failure()
    if not as_json:
        print("the session has ended")
