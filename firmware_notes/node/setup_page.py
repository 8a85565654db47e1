"""The page on which the card is pasted: at the first start, or when the button is held at power-on.

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
<style>*{font:1.1rem sans-serif;max-width:30em}textarea,input{width:100%%}pre{white-space:pre-wrap}</style>
<h1>Board %s</h1><p role=status><b>%s</b></p>"""
_FORM = """<form method=post action=/><p><label>Card, all of it<textarea name=card rows=6></textarea></label>
<p><label>Wi-Fi name, if the card has none<input name=wifi value="%s"></label>
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
    """Whatever is asked for is here; None for what is no question."""
    end = query.find(b"\0", 12) + 5
    if len(query) < 17 or end < 17 or query[2] & 0x80:
        return None
    ours = query[end - 3] == 1  # type A, RFC 1035; other types: no such record
    answer = query[:2] + b"\x85\x80\0\1" + (b"\0\1" if ours else b"\0\0") + b"\0\0\0\0" + query[12:end]
    if ours:
        answer += b"\xc0\x0c\0\1\0\1\0\0\0\x0a\0\x04" + bytes([int(part) for part in address.split(".")])
    return answer


class _Page:
    def __init__(self, board, settings, report):
        self.settings, self.report = settings, report
        self.name = settings.card["node"] if settings.card else "new"
        self.card = ""  # a good one that waits for the Wi-Fi
        self.saved = False

    def page(self, status, text, wifi=""):
        page = _PAGE % (status, self.name, _plain(text))
        if not self.saved:
            page += _FORM % (_plain(wifi), _plain(self.report))
        return page.encode()

    def answer(self, request):
        """The answer to a request; None while it is not whole."""
        if len(request) > _MOST:
            return self.page("413 Too large", "That is more than a card.")
        end = request.find(b"\r\n\r\n")
        if end < 0:
            return None
        method = request[:4]
        if method != b"POST":
            status = "200 OK" if method in (b"GET ", b"HEAD") else "405 Not allowed"
            return self.page(status, "Paste the card of this board.")
        try:
            head = bytes(request[:end]).lower()
            size = int(head.split(b"\r\ncontent-length:")[1].split(b"\r\n")[0])
            if not 0 <= size <= _MOST:
                return self.page("413 Too large", "That is more than a card.")
            if len(request) < end + 4 + size:
                return None
            fields = _fields(bytes(request[end + 4 : end + 4 + size]))
        except (ValueError, IndexError, MemoryError):
            return self.page("400 Bad request", "That is no form. Open this page again.")
        return self.take(fields)

    def take(self, fields):
        wifi = fields.get(b"wifi", "").strip()
        card = fields.get(b"card", "").strip() or self.card
        reason = self.settings.take_card(card, wifi, fields.get(b"password", ""))
        if not reason:
            self.saved = True
            return self.page("200 OK", "Saved. The board starts and is soon heard by the monitor.")
        if not self.settings.check_card(card)[1]:
            self.card = card
            reason += " The card is good and need not be pasted again."
        return self.page("422 Refused", reason, wifi)


def _turn(client, page):
    """Reads or writes what is possible now; False when the client is done with."""
    link, since, request, answer = client
    if time.ticks_diff(time.ticks_ms(), since) > _WAIT_MS:
        return False
    try:
        if answer:
            client[3] = answer[link.send(answer) :]
            return bool(client[3]) or len(request) > _MOST
        data = link.recv(512)
        if not data:
            return False
        if answer is None:  # else: too much, read on so that the answer is not cut off
            request += data
            client[3] = page.answer(request)
            if client[3]:
                client[1] = time.ticks_ms()
    except OSError as error:
        return error.errno == 11  # EAGAIN: not yet
    return True


def _listen(kind, port):
    link = socket.socket(socket.AF_INET, kind)
    link.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    link.bind(socket.getaddrinfo("0.0.0.0", port)[0][-1])
    link.setblocking(False)
    return link


def _tell_name(names, address):
    try:
        query, asker = names.recvfrom(300)
        answer = dns_answer(query, address)
        if answer:
            names.sendto(answer, asker)
    except OSError:
        pass  # nobody asks


def _wait(door, names, clients):
    """Until something can be done, or a third of a second."""
    poll = select.poll()
    for client in clients:
        poll.register(client[0], select.POLLOUT if client[3] else select.POLLIN)
    for link in (door, names):
        if link:
            poll.register(link, select.POLLIN)
    poll.poll(300)


def serve(board, settings, report=""):
    """True when a card was saved; False when nobody came and the board has one."""
    page = _Page(board, settings, report)
    address = board.access_point("board-" + page.name)
    door = _listen(socket.SOCK_STREAM, board.setup_port)
    door.listen(_CLIENTS)
    names = _listen(socket.SOCK_DGRAM, 53) if board.setup_port == 80 else None
    clients = []
    heard = time.ticks_ms()
    while clients or not page.saved:
        board.feed()
        room = len(clients) < _CLIENTS and not page.saved
        _wait(room and door, names, clients)
        try:
            if room:
                link = door.accept()[0]
                link.setblocking(False)
                heard = time.ticks_ms()
                clients.append([link, heard, bytearray(), None])
        except OSError:
            pass  # nobody new
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
