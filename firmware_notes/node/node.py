"""The start of a board: the watchdog, the card or the page that asks for it, then its rounds.

What is not needed is not loaded: the page and the rounds never share the small heap.
"""

import gc
import sys
from binascii import a2b_base64

import mqtt
from hardware import Board
from micropython import const
from settings import Settings

_WATCHDOG_S = const(60)  # choice: above the longest wait without a feed: to reach a broker, TLS and CONNACK
_CRASH_PAUSE_MS = const(20000)  # choice


def run():
    gc.threshold(4096)  # bytes between two collections (choice): a small heap stays in one piece
    board = Board()
    board.watchdog(_WATCHDOG_S)
    try:
        settings = Settings(board)
        if settings.card is None or board.setup_wanted():
            import setup_page

            setup_page.serve(board, settings)
            board.restart()  # without the open network of that page
        client = mqtt.Client(a2b_base64(settings.card["ca"]))
        gc.collect()
        from rounds import Node

        Node(board, settings, client).run()
    except Exception as error:  # a slip of ours: start anew, slowly, and keep measuring
        gc.collect()
        sys.print_exception(error)
        board.sleep_ms(_CRASH_PAUSE_MS)
        board.restart()
