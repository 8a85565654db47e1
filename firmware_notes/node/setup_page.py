"""The page on which the card is pasted: at the first start, or when the button asks for it after power-on.

The board opens a Wi-Fi network of its own and answers each name and each path with the page, so that phones
offer it by themselves. A request has 4 kB and 3 s; up to four clients are served side by side. What was typed
stays on the page when it is refused, but no secret does: a good card that lacks the Wi-Fi is kept in memory.
The network is open: set the board up where no stranger is near.
"""

import select
import socket
import time

from micropython import const

_MOST = const(4096)
_WAIT_MS = const(3000)
_CLIENTS = const(4)
_IDLE_MS = const(600000)  # a board that has a card goes on by itself after ten minutes (choice)

_PAGE = """HTTP/1.0 %s
Content-Type: text/html; charset=utf-8
Cache-Control: no-store
Connection: close

<!doctype html><html lang=en><meta name=viewport content="width=device-width"><title>Board</title>
<style>body{font:1.1rem sans-serif}textarea,input,button{font:inherit;width:95%%}</style>
<main><h1>Board %s</h1><p role=status><b>%s</b></p>"""
_FORM = """<form method=post action=/><p><label>Card, all of it<textarea name=card rows=6></textarea></label>
<p><label>Wi-Fi name, if the card has none<input name=wifi autocapitalize=none value="%s"></label>
<p><label>Wi-Fi password<input name=password type=password></label><p><button>Save</button></form>
<pre>%s</pre>"""


def _plain(text):
    """For HTML."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")


def _fields(body):
    """What a form sent; ValueError where that is no form."""
    found = {}
    for pair in body.split(b"&"):
        name, _, value = pair.partition(b"=")
        parts = value.replace(b"+", b" ").split(b"%")
        data = bytearray(parts[0])
        for part in parts[1:]:
            data.append(int(part[:2], 16))
            data += part[2:]
        found[name] = data.decode()
    return found


def dns_answer(query, address):
    """Whatever is asked for is here; nothing for what is no question."""
    end = query.find(b"\0", 12) + 5
    if end < 17 or end > len(query) or query[2] & 0x80:
        return b""
    ours = query[end - 3] == 1  # type A, RFC 1035; other types: no such record
    answer = query[:2] + b"\x85\x80\0\1" + (b"\0\1" if ours else b"\0\0") + b"\0\0\0\0" + query[12:end]
    if ours:
        answer += b"\xc0\x0c\0\1\0\1\0\0\0\x0a\0\x04" + bytes([int(part) for part in address.split(".")])
    return answer


class _Page:
    def __init__(self, settings, report):
        self.settings, self.report = settings, report
        self.saved = False

    def page(self, status, text, wifi=""):
        card = self.settings.card
        page = _PAGE % (status, card["node"] if card else "", _plain(text))
        if not self.saved:
            page += _FORM % (_plain(wifi), _plain(self.report))
        return page.encode()

    def answer(self, request):
        """The answer to a request; None while it is not whole."""
        end = request.find(b"\r\n\r\n") + 4
        try:
            if len(request) <= _MOST:
                if end < 4:
                    return None
                if request[:4] in (b"GET ", b"HEAD"):
                    return self.page("200 OK", "Paste the card of this board.")
                head = bytes(request[:end]).lower()
                end += int(head.split(b"\ncontent-length:")[1].split(b"\r")[0])
                if request[:5] == b"POST " and len(head) <= end <= _MOST:
                    return self.take(bytes(request[len(head) : end])) if len(request) >= end else None
        except (ValueError, IndexError, MemoryError):
            pass
        return self.page("400 Bad request", "That is no form, or too much for a card. Open this page again.")

    def take(self, body):
        fields = _fields(body)
        wifi = fields.get(b"wifi", "").strip()
        # A board that has a card shows this page only when it was asked to by its button.
        reason = self.settings.take_card(fields.get(b"card", ""), wifi, fields.get(b"password", ""), True)
        if reason:
            return self.page("422 Refused", reason, wifi)
        self.saved = True
        return self.page("200 OK", "Saved. The board starts and is soon heard by the monitor.")


def _turn(client, page):
    """Reads or writes what is possible now; False when the client is done with."""
    link, since, request, answer = client
    if time.ticks_diff(time.ticks_ms(), since) > _WAIT_MS:
        return False
    try:
        if answer:
            client[3] = answer[link.send(answer) :]
            return bool(client[3]) or request is None
        data = link.recv(512)
        if not data:
            return False
        if answer is None:  # else: no form or too much, read on so that the answer is not cut off
            request += data
            client[3] = page.answer(request)
            if client[3]:
                client[1] = time.ticks_ms()
                if b" 400 " in client[3][:16]:
                    client[2] = None
    except OSError as error:
        return error.errno == 11  # EAGAIN: not yet
    return True


def _listen(kind, port):
    link = socket.socket(socket.AF_INET, kind)
    link.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    link.bind(socket.getaddrinfo("0.0.0.0", port)[0][-1])
    link.setblocking(False)
    return link


def _heard(door):
    """Somebody new, or None."""
    try:
        link = door.accept()[0]
        link.setblocking(False)
        return [link, time.ticks_ms(), bytearray(), None]
    except OSError:
        return None


def _tell_name(names, address):
    try:
        query, asker = names.recvfrom(300)
        names.sendto(dns_answer(query, address), asker)
    except OSError:
        pass  # nobody asks


def _wait(clients, links):
    poll = select.poll()
    for client in clients:
        poll.register(client[0], select.POLLOUT if client[3] else select.POLLIN)
    for link in links:
        if link:
            poll.register(link, select.POLLIN)
    poll.poll(300)


def _report(board, settings):
    """Why the board started, and what its sensors say now: values, faults, probes."""
    said = "reset: " + board.reset_cause()
    if settings.card:
        import sensors

        opened = sensors.open_all(board, settings.card["sensors"], settings.get("probes"))
        for part in sensors.measure(opened, board):
            for name in sorted(part):
                said += "\n%s: %s" % (name, part[name])
    return said


def serve(board, settings):
    """True when a card was saved; False when nobody came and the board has one."""
    page = _Page(settings, _report(board, settings))
    address = board.access_point("board-" + (settings.card["node"] if settings.card else "new"))
    door = _listen(socket.SOCK_STREAM, board.setup_port)
    door.listen(_CLIENTS)
    names = _listen(socket.SOCK_DGRAM, 53) if board.setup_port == 80 else None
    clients = []
    heard = time.ticks_ms()
    while clients or not page.saved:
        board.feed()
        room = door if len(clients) < _CLIENTS and not page.saved else None
        _wait(clients, (room, names))
        new = room and _heard(room)
        if new:
            clients.append(new)
            heard = new[1]
        if names:
            _tell_name(names, address)
        for client in list(clients):
            if not _turn(client, page):
                client[0].close()
                clients.remove(client)
        if settings.card and not page.saved and time.ticks_diff(time.ticks_ms(), heard) > _IDLE_MS:
            break
    for link in (door, names):
        if link:
            link.close()
    return page.saved
