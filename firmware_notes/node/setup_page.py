"""The page on which the card is pasted: at the first start, or when the button asks for it after power-on.

The board opens a Wi-Fi network of its own and answers each path with the page. Clients are served one by one:
a request has 4 kB and 3 s, and a second for each piece of it. What was typed stays on the page when it is
refused, but no secret does: a good card that lacks the Wi-Fi is kept in memory. The network is open: set the
board up where no stranger is near.
"""

import os
import socket
from time import ticks_diff, ticks_ms

from micropython import const

_MOST = const(4096)
_WAIT_MS = const(3000)
_BAD = const("400 Bad request")
_IDLE_MS = const(600000)  # a board that has a card goes on by itself after ten minutes (choice)

_PAGE = """HTTP/1.0 %s
Content-Type: text/html; charset=utf-8

<!doctype html><html lang=en><meta name=viewport content="width=device-width"><title>Board</title>
<style>body{font:1.1rem sans-serif}textarea,input,button{font:inherit;width:95%%}</style>
<main><h1>Board %s</h1><p role=status><b>%s</b></p>"""
# As plain text what was typed comes as it is: name=value in lines.
_FORM = """<form method=post action=/ enctype=text/plain>
<p><label>Card, all of it<textarea name=card rows=6></textarea></label>
<p><label>Wi-Fi name, if the card has none<input name=wifi autocapitalize=none value="%s"></label>
<p><label>Wi-Fi password<input name=password type=password></label><p><button>Save</button></form>
<pre>%s</pre>"""


def _plain(text):
    """For HTML."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")


def _request(link, settings):
    """Status, what to say, Wi-Fi name of the answer; ValueError or IndexError where it is no form."""
    request, since = b"", ticks_ms()
    while len(request) <= _MOST:
        piece = link.recv(512)
        if not piece or ticks_diff(ticks_ms(), since) > _WAIT_MS:
            raise OSError
        request += piece
        head, end, body = request.partition(b"\r\n\r\n")
        if end and head[:5] != b"POST ":
            if head[:4] not in (b"GET ", b"HEAD"):
                break
            return "200 OK", "Paste the card of this board.", ""
        if not end:
            continue
        length = int(head.lower().split(b"\ncontent-length:")[1].split(b"\r")[0])
        if length > _MOST:
            break
        if len(body) >= length:
            card, _, rest = body.decode().rpartition("\r\nwifi=")
            wifi, _, password = rest.partition("\r\npassword=")
            reason = settings.take_card(card, wifi.strip(), password.replace("\r\n", ""))
            return ("422 Refused", reason, wifi) if reason else None
    raise ValueError


def _serve(link, settings, report):
    """True when a card was saved."""
    card = settings.card
    try:
        said = _request(link, settings)
    except (ValueError, IndexError, MemoryError):
        said = _BAD, "That is no form, or too much for a card. Open this page again.", ""
    if said:
        page = _PAGE % (said[0], card["node"] if card else "", _plain(said[1]))
        link.write(page + _FORM % (_plain(said[2]), _plain(report)))
        if said[0] == _BAD:
            for _ in range(16):  # what still comes of it, so that the answer is not cut off
                link.recv(2048)
        return False
    card = settings.card
    said = "Saved. The board starts, and is soon heard by the monitor of " + card["site"] + "."
    link.write(_PAGE % ("200 OK", card["node"], said))
    return True


def _report(board, settings):
    """Why the board started, and what its sensors say now: values, faults, probes."""
    said = "reset: " + board.reset_cause()
    if settings.card:
        import sensors

        opened = sensors.open_all(board, settings.card["sensors"], settings.get("probes"))
        for part in sensors.measure(opened, board):
            for name in part:
                said += "\n%s: %s" % (name, part[name])
    return said


def _take_file(path, settings):
    """A card that came over USB in place of the page; True when it was saved, and is gone from there."""
    try:
        with open(path) as f:
            print(settings.take_card(f.read()))
        if settings.card:
            os.remove(path)
    except OSError:
        pass  # there is none
    return settings.card


def serve(board, settings):
    """True when a card was saved; False when nobody came and the board has one."""
    if not settings.card and _take_file(board.folder + "card.json", settings):
        return True
    report = _report(board, settings)
    board.access_point("board-" + (settings.card["node"] if settings.card else "new"))
    door = socket.socket()
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    door.bind(socket.getaddrinfo("0.0.0.0", board.setup_port)[0][-1])
    door.listen(4)
    door.settimeout(1)
    saved, heard = False, ticks_ms()
    while not saved and not (settings.card and ticks_diff(ticks_ms(), heard) > _IDLE_MS):
        board.feed()
        try:
            link = door.accept()[0]
        except OSError:
            continue  # nobody
        heard = ticks_ms()
        link.settimeout(1)
        try:
            saved = _serve(link, settings, report)
        except OSError:
            pass  # a client that stalls, or is gone
        link.close()
    door.close()
    return saved
