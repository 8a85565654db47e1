"""Rounds go to the monitor, and stay in the backlog until it has said that they are stored.

The newest goes out at once, for the alarms; the others follow from the oldest on, once the monitor has
answered on this connection. PUBACKs only pace this: a broker confirms what its rules refuse, and one that is
killed forgets. What `done` does not reach is asked for once more (a question may overtake packs in the
broker's queue), then sent again.
"""

from time import ticks_diff, ticks_ms

from micropython import const

_UNCONFIRMED = const(100)  # choice: sent and not confirmed
_ASK_EACH_MS = const(600000)  # while something waits; else the time is asked for each hour
_TIME_EACH_MS = const(3600000)
_NO_TIME_EACH_MS = const(60000)  # while no time is known
ANSWER_MS = 10000  # real time
SHORT_S = 5  # choice: how much longer each time until we ask again
_TRIES = const(5)  # sendings, each followed by two answers

# The names and units of SenML behind the three letters.
UNITS = {
    "air": 'air_temperature","u":"Cel',
    "hum": 'air_humidity","u":"%RH',
    "sub": 'substrate_temperature","u":"Cel',
    "sur": 'surface_temperature","u":"Cel',
    "moi": 'substrate_moisture","u":"/',
    "bat": 'battery","u":"V',
}


def pack(boot, sequence, time_s, values, until_s):
    """SenML (RFC 8428); `time_s`: Unix time, or below 0 from now; `until_s` promises the next."""
    records = []
    head = '"bt":%d,' % time_s
    for name in sorted(values):  # whatever order it came back in
        records.append(
            '{%s"n":"%s","v":%s%s}'
            % (head, name[:-3] + UNITS[name[-3:]], values[name], ',"ut":%d' % until_s if head else "")
        )
        head = ""
    for name, value in (("boot", boot), ("sequence", sequence)):
        records.append('{%s"n":"%s","u":"count","v":%d}' % (head, name, value))
        head = ""
    return "[" + ",".join(records) + "]"


class Sender:
    """`until_s` is how long the monitor may wait for the next reading.

    `ask_after` so many rounds: below the backlog's group of ten, so that what is confirmed spares the flash.
    """

    def __init__(self, backlog, clock, client, prefix, ask_after=8):
        self.backlog = backlog
        self.clock = clock
        self.client = client
        self.prefix = prefix
        self.until_s = 60
        self.ask_after = ask_after
        self.tries = 0
        self.connected()

    def connected(self):
        """A new connection: nothing has been sent on it, nobody has answered."""
        self.answered = False
        self.live = None  # (first, last) of our boot, sent at once on this connection
        self.asked = None  # boot, first and last of the question that waits for its answer
        self.near = None  # since when we wait for it, while that pays
        self.known = (0, 0)  # up to here the monitor has said what it holds
        self.silence = 0  # questions without an answer
        self.there = None  # what the monitor has said of itself on this connection
        self.short = 0  # answers in a row that fell short
        self.pause = (ticks_ms(), 0)  # no question before
        self.heard_ms = self.clock.uptime_ms()
        self._rewind()

    def _rewind(self):
        self.sent = 0  # so many of the oldest have been sent
        self.last = None  # (boot, sequence) of the last of them
        self.blocked = False  # the next one does not follow: these must be done first

    def _publish(self, boot, sequence, at_s, dated, values):
        if not dated:
            at_s -= self.clock.uptime_ms() // 1000
        payload = pack(boot, sequence, min(at_s, -1) if not dated else at_s, values, self.until_s)
        return self.client.publish(self.prefix + "readings", payload, 1)

    def now(self, boot, sequence, at_s, dated, values):
        """Send a round that was just measured, before all that waits.

        One that counts from now goes out only while the monitor is there: what waits for it in the broker
        would be dated by its arrival. While its database refuses it answers nothing, but says it is there.
        """
        is_there = self.answered or (self.silence and self.there)
        if (dated or is_there) and self._publish(boot, sequence, at_s, dated, values):
            follows = self.live and self.live[1] + 1 == sequence
            self.live = (self.live[0] if follows else sequence, sequence)

    def turn(self):
        """One step; True while an answer of broker or monitor is near, so that it pays to wait for it."""
        if self.near is not None and ticks_diff(ticks_ms(), self.near) > ANSWER_MS:
            self.near = None
            self.silence += 1
            self._wait(min(600, 5 << self.silence))
        waits = self.near is not None
        if self.answered and not waits:
            self._send()
        if not waits and ticks_diff(ticks_ms(), self.pause[0]) >= self.pause[1] and self._is_due():
            self._ask()
        return self.near is not None or bool(self.client.owed)

    def monitor_says(self, there):
        """It, or its will: when it came back, what we asked before did not reach it."""
        if not there:
            self.answered = False
        elif self.there is not None and not self.answered:
            self.near = None
            self._wait(0)
        self.there = there

    def is_over(self):
        """Nothing more can be sent or be confirmed now."""
        if self.near is not None or self.client.owed:
            return False
        return self.silence > 0 or (self.answered and not self.sent and not self.blocked)

    def _wait(self, seconds):
        self.pause = (ticks_ms(), seconds * 1000)

    def _is_due(self):
        passed = self.clock.uptime_ms() - self.heard_ms
        return (
            not self.answered
            or self.clock.doubt is not None
            or passed > (_TIME_EACH_MS if self.clock.offset_ms is not None else _NO_TIME_EACH_MS)
            or (passed > _ASK_EACH_MS and self.sent > 0)
            or (not self.client.owed and (self.sent >= self.ask_after or self.blocked or self.short & 1))
        )

    def _ask(self):
        front = self.backlog.oldest(1)
        boot = first = last = None
        if front:
            boot, first = front[0][:2]
            # Further than we sent: what arrived before the last connection broke need not go again.
            last = first + _UNCONFIRMED - 1
        if self.client.publish(self.prefix + "ask", self.clock.question(boot, first, last)):
            self.asked = (boot, first, last)
            self.near = ticks_ms()

    def _send(self):
        while self.sent < _UNCONFIRMED and not self.blocked:
            rounds = self.backlog.oldest(8, self.sent)
            if not rounds or self._give_up_undated(rounds):
                return
            for one in rounds:
                if not self._send_one(one):
                    return

    def _give_up_undated(self, rounds):
        """Of an earlier boot without time nobody can say any more when it was. True when the first are such.

        What the monitor has not been asked for may be stored already, sent while it had no time.
        """
        last = None
        for boot, sequence, _, dated, _ in rounds:
            if self.sent or dated or boot == self.backlog.boot:
                break
            self.blocked = (boot, sequence) > self.known
            if self.blocked:
                break
            last = (boot, sequence)
        if last:
            self.blocked = False
            self.backlog.done(*last, lost=True)
        return self.blocked or last is not None

    def _send_one(self, one):
        boot, sequence, dated = one[0], one[1], one[3]
        if self.last and self.last != (boot, sequence - 1):
            self.blocked = True
            return False
        ours = boot == self.backlog.boot
        went = ours and self.live and self.live[0] <= sequence <= self.live[1]
        if not dated and not went:
            self.blocked = not ours  # ours waits for the time
            return False
        if not went and not self._publish(*one):
            return False
        self.last = (boot, sequence)
        self.sent += 1
        return True

    def take_answer(self, said):
        """What the monitor says is stored is done; `said` answers our last question."""
        if not self.asked:
            return
        boot, first, last = self.asked
        self.asked = self.near = None
        self.answered = True
        self.silence = 0
        self.heard_ms = self.clock.uptime_ms()
        done = said.get("done")
        if first is None or said.get("boot") != boot or type(done) is not int:
            return
        self.known = (boot, last)
        done = min(done, last)
        sent = self.sent
        if done >= first:
            before = self.backlog.waiting()
            self.backlog.done(boot, done)
            self.sent = max(0, sent - before + self.backlog.waiting())
            self.tries = self.short = 0
        if not self.sent:
            self._rewind()
        elif self.last[0] == boot:
            self._fell_short(boot, max(done + 1, first))

    def _fell_short(self, boot, sequence):
        """Sent and not stored: the question overtook it, or it was lost on the way."""
        self.short += 1
        self._wait(SHORT_S * self.short)
        if self.short & 1 == 0:
            self._rewind()
            self.live = None
            self.tries += 1
            if self.tries >= _TRIES:
                self.tries = 0
                self.backlog.done(boot, sequence, lost=True)
