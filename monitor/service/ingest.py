"""From MQTT messages to node messages with their time resolved, and what guards the way in.

A bounded queue stands between the broker's thread and the batches, so that a flood cannot fill the memory;
boards that the settings do not name get a bounded room; the machine's own clock is checked and watched.
"""

from __future__ import annotations

import logging
import time
from collections import defaultdict, deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from threading import Condition, Event, Lock
from typing import Self

from monitor.errors import IntakeError, SaidText, sentence
from monitor.intake.node_clock import (
    EARLIEST_CLOCK_MS,
    Absence,
    NodeClock,
    clock_is_set,
    clock_of,
    resolve_clock,
)
from monitor.intake.pack_forms import PackForms
from monitor.intake.payload import IDENTIFIER, PlainRoute, Topics, Understood, rejection, understand
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    Ask,
    IncomingMessage,
    NodeMessage,
    Reading,
    Rejected,
    SensorKey,
    TimeSource,
)
from monitor.service.site_state import SiteState
from monitor.settings.schema import Settings
from monitor.store import Store

log = logging.getLogger(__name__)

LEAST_JUMP_MS = 30 * MS_PER_SECOND
DOUBTFUL_JUMP_MS = MS_PER_DAY
PROOF_S = 24 * 3600.0
"""Own choice: for so long after a jump of a day or more the clock proves nothing, by the steady clock."""
LONGEST_WAIT_S = 600.0
POLL_S = 2.0
BATCH_MESSAGES = 500
BATCH_S = 0.25
MOST_WAITING = 4000
"""Messages that wait for a batch."""
PATIENCE_S = 10.0
"""How long the network thread waits for room; well below the keep-alive time of a connection."""


class ClockWatch:
    """Compares the wall clock with the steady one.

    A small computer without a battery clock starts in the past, and without internet nobody corrects it; one
    whose clock was wrong once is set by hours or years. A delay that counts on the wall clock would then end
    at once, or never.
    """

    def __init__(self, clock_ms: Callable[[], int], steady_s: Callable[[], float] = time.monotonic) -> None:
        self._clock_ms, self._steady_s = clock_ms, steady_s
        self._wall_ms, self._steady_ms = clock_ms(), steady_s() * MS_PER_SECOND
        self._doubted_s: float | None = None
        self._behind_ms = 0

    def doubt(self) -> None:
        """The clock may be wrong: it proves nothing for a day by the steady clock."""
        self._doubted_s = self._steady_s()

    @property
    def is_proven(self) -> bool:
        """Whether the clock went on steadily for long enough that something may be deleted by it."""
        return self._doubted_s is None or self._steady_s() - self._doubted_s >= PROOF_S

    def is_trusted(self, now_ms: int) -> bool:
        """Whether boards may be told this time: not while nobody has set a clock that began too far back."""
        return clock_is_set(now_ms, None) and not self._behind_ms

    def jump_ms(self, now_ms: int) -> int:
        """By how much the clock was set since the last call: ahead above 0, back below, 0 if it was not."""
        steady_ms = self._steady_s() * MS_PER_SECOND
        jump = round((now_ms - self._wall_ms) - (steady_ms - self._steady_ms))
        self._wall_ms, self._steady_ms = now_ms, steady_ms
        if abs(jump) >= DOUBTFUL_JUMP_MS:
            self.doubt()
        if jump >= LEAST_JUMP_MS and now_ms >= self._behind_ms:
            self._behind_ms = 0
        return jump if abs(jump) >= LEAST_JUMP_MS else 0

    def wait(self, last_known_ms: int | None, stopping: Event, say: Callable[[str], None]) -> bool:
        """Wait until the clock is set; gives whether there was anything to wait for.

        A clock behind our last sign of life is waited for ten minutes at most: without internet nobody sets
        it, and a farm that is guarded by a clock some hours late is better off than one that is not. A clock
        from before this program was written is waited for without end.
        """
        began_s, waited = self._steady_s(), False
        while not clock_is_set(self._clock_ms(), last_known_ms) and not stopping.is_set():
            if not waited:
                say("the clock of this computer is not set yet; readings wait in the broker")
            waited = True
            is_plausible = self._clock_ms() >= EARLIEST_CLOCK_MS
            if is_plausible and self._steady_s() - began_s >= LONGEST_WAIT_S:
                say(
                    "the clock of this computer is behind the last sign of life of the monitor and nobody "
                    "sets it; guarding goes on by this clock. To mend: set the clock, or give the computer "
                    "internet or a battery clock"
                )
                self._behind_ms = last_known_ms or 0
                break
            stopping.wait(POLL_S)
        self.jump_ms(self._clock_ms())
        return waited


class IngestQueue:
    """`put` is called by the network thread, the rest by the thread that processes batches.

    Some brokers send all that they kept at once, more than we asked for. While there is no room, the network
    thread waits, so that the rest stays in the broker and in the network; refusing would end the
    connection, and all of it would come again.

    The thread of the batches sleeps until a batch is full or its time is over: to wake it for each message
    cost a tenth of the intake.
    """

    def __init__(self, most_waiting: int = MOST_WAITING, patience_s: float = PATIENCE_S) -> None:
        self._messages: deque[IncomingMessage] = deque()
        self._changed = Condition(Lock())
        self._most_waiting, self._patience_s = most_waiting, patience_s
        self._wanted = BATCH_MESSAGES
        self.dropped = 0

    def put(self, message: IncomingMessage) -> None:
        """Take a message over. Full: one without acknowledgement is dropped and counted, another waits."""
        acknowledged = bool(getattr(message.token, "qos", 0))
        with self._changed:
            if acknowledged and not self._has_room():
                self._changed.wait_for(self._has_room, self._patience_s)
            if self._has_room():
                self._messages.append(message)
                if len(self._messages) == self._wanted:
                    self._changed.notify_all()
                return
        if acknowledged:
            raise IntakeError("too many messages wait; this one stays in the broker")
        self._drop()

    def _has_room(self) -> bool:
        return len(self._messages) < self._most_waiting

    def _drop(self) -> None:
        self.dropped += 1
        if self.dropped == 1 or self.dropped % 10_000 == 0:
            log.warning(
                "messages come faster than they can be taken in; %d sent with QoS 0 were dropped (boards "
                "should publish with QoS 1)",
                self.dropped,
            )

    def batch(self) -> list[IncomingMessage]:
        """The next batch: what arrives within 250 ms, at most 500 messages."""
        return self._take(BATCH_MESSAGES, BATCH_S)

    def exactly(self, count: int, timeout_s: float) -> list[IncomingMessage]:
        """So many messages, fewer when none comes in time."""
        messages: list[IncomingMessage] = []
        while len(messages) < count:
            taken = self._take(count - len(messages), timeout_s)
            if not taken:
                break
            messages += taken
        return messages

    def _take(self, most: int, within_s: float) -> list[IncomingMessage]:
        with self._changed:
            self._wanted = min(most, self._most_waiting)
            self._changed.wait_for(lambda: len(self._messages) >= self._wanted, within_s)
            taken = [self._messages.popleft() for _ in range(min(most, len(self._messages)))]
            self._changed.notify_all()
        return taken


@dataclass(frozen=True, slots=True)
class CapacityLimits:
    """How many unknown boards, sensors of one board, and sensors of all unknown boards there is room for."""

    boards: int = 2000
    sensors_of_board: int = 250
    sensors_of_unknown_boards: int = 5000


LIMITS = CapacityLimits()
KEPT_DAYS, RIGHT_FOR_MS = 400, MS_PER_HOUR
"""Own choices: a board's flash holds at most about so many days of packs; for so long after a right time its
clock is believed about older ones."""


class UnknownBoards:
    """Decides which boards are taken in: their names must not fill memory and disk.

    A board of the settings (`is_known`) is always taken in. Of the others only the first `limits.boards` are,
    each with a bounded number of sensors; what comes beyond is refused with the reason, and counted without
    its name.
    """

    def __init__(
        self,
        is_known: Callable[[str], bool],
        boards: Iterable[str] = (),
        sensors: Iterable[SensorKey] = (),
        limits: CapacityLimits = LIMITS,
    ) -> None:
        self._is_known, self._limits = is_known, limits
        self._boards = set(boards)
        self._sensors: dict[str, set[SensorKey]] = defaultdict(set)
        for sensor in sensors:
            self._sensors[sensor.node].add(sensor)
        self.count_again()

    def count_again(self) -> None:
        """Count again, once the settings name other boards than before."""
        self._boards = {node for node in (*self._boards, *self._sensors) if not self._is_known(node)}
        self._unknown_sensors = sum(len(self._sensors.get(node, ())) for node in self._boards)

    def admit(self, understood: Understood, message: IncomingMessage) -> Understood:
        """What was understood, or a refusal in its place; readings of too many sensors are left out."""
        node = understood.node
        if node is None or isinstance(understood, Ask):
            return understood
        if not self._has_room(node):
            said = sentence(
                "the settings do not name this board, and {count} such boards are listed already; "
                "add it to [[nodes]]",
                count=self._limits.boards,
            )
            return rejection(None, message, SaidText(said))
        return self._fitting(understood, message) if isinstance(understood, NodeMessage) else understood

    def _has_room(self, node: str) -> bool:
        if node in self._boards or self._is_known(node):
            return True
        if len(self._boards) >= self._limits.boards:
            return False
        self._boards.add(node)
        return True

    def _fitting(self, understood: NodeMessage, message: IncomingMessage) -> NodeMessage | Rejected:
        kept = tuple(reading for reading in understood.readings if self._may_speak(reading))
        if len(kept) == len(understood.readings):
            return understood
        most = len(self._sensors[understood.node])
        reason = SaidText(sentence("the board has more sensors than are taken in ({count})", count=most))
        if kept:
            return replace(understood, readings=kept, skipped=(*understood.skipped, reason))
        return rejection(understood.node, message, reason)

    def _may_speak(self, reading: Reading) -> bool:
        sensor = reading.sensor
        mine = self._sensors[sensor.node]
        if sensor in mine:
            return True
        is_unknown = sensor.node in self._boards
        crowded = is_unknown and self._unknown_sensors >= self._limits.sensors_of_unknown_boards
        if crowded or len(mine) >= self._limits.sensors_of_board:
            return False
        mine.add(sensor)
        self._unknown_sensors += is_unknown
        return True


class MessageDecoder:
    """Understands messages. `absence` is the last time that we were away from the broker."""

    def __init__(self, topics: Topics, routes: tuple[PlainRoute, ...], unknown_boards: UnknownBoards) -> None:
        self._topics, self._routes, self.unknown_boards = topics, routes, unknown_boards
        self._forms = PackForms(topics)
        self._clocks: dict[str, NodeClock] = {}
        # A board that was away for long sends its newest pack first, and then what it kept.
        self._patient_topics = replace(topics, oldest_ms=KEPT_DAYS * MS_PER_DAY)
        self._right_ms: dict[str, int] = {}
        self.absence: Absence | None = None

    @classmethod
    def of(cls, store: Store, site: SiteState, topics: Topics, routes: tuple[PlainRoute, ...]) -> Self:
        """With what the store knows of boards, their sensors, and the rhythm of those without a clock."""
        known = store.nodes.every()
        boards = UnknownBoards(
            lambda node: node in site.plan.nodes, [facts.node for facts in known], store.readings.sensors()
        )
        decoder = cls(topics, routes, boards)
        for facts in known:
            node = site.plan.nodes.get(facts.node)
            interval_ms = None if node is None else node.interval_s * MS_PER_SECOND
            if facts.boot is not None and facts.sequence is not None:
                arrivals = store.nodes.last_arrivals(facts.node, facts.boot)
                decoder._clocks[facts.node] = clock_of(arrivals, facts.boot, interval_ms)
        return decoder

    def take(self, message: IncomingMessage) -> Understood | None:
        """What a message means; None where it is not for us."""
        understood = self._forms.read(message) or understand(message, self._topics, self._routes)
        if understood is None:
            return None
        admitted = self.unknown_boards.admit(understood, message)
        if not isinstance(admitted, NodeMessage):
            return admitted
        if admitted.time_source is not TimeSource.RELATIVE:
            admitted = self._by_a_right_clock(admitted, message)
        if message.redelivered:
            admitted = replace(admitted, redelivered=True)
        return self._dated(admitted, None if message.live else self.absence, message.age_s is not None)

    def _by_a_right_clock(self, understood: NodeMessage, message: IncomingMessage) -> NodeMessage:
        """What a board kept for so long that its clock would seem wrong, had it not been right just now."""
        node, now_ms = understood.node, message.received_ms
        if understood.time_source is TimeSource.NODE:
            self._right_ms[node] = now_ms
            return understood
        right_ms = self._right_ms.get(node)
        if understood.clock_fault is None or right_ms is None or not 0 <= now_ms - right_ms <= RIGHT_FOR_MS:
            return understood
        again = understand(message, self._patient_topics, self._routes)
        admitted = None if again is None else self.unknown_boards.admit(again, message)
        is_old = isinstance(admitted, NodeMessage) and admitted.clock_fault is None
        return admitted if isinstance(admitted, NodeMessage) and is_old else understood

    def board_of(self, message: IncomingMessage) -> str | None:
        """The board on whose own topic a message came."""
        own = self._topics.split(message.topic)
        return own[0] if own and IDENTIFIER.fullmatch(own[0]) else None

    def _dated(self, message: NodeMessage, absence: Absence | None, age_known: bool) -> NodeMessage:
        memory = self._clocks.get(message.node, NodeClock())
        memory, dated = resolve_clock(memory, message, absence, age_known=age_known)
        self._clocks[message.node] = memory
        return dated


def topics_of(settings: Settings) -> Topics:
    """Topics of the site, and how far a board's own time may be from ours."""
    return Topics(
        settings.site.id,
        settings.broker.topic_root,
        round(settings.intake.oldest_days * MS_PER_DAY),
        round(settings.intake.newest_minutes * MS_PER_MINUTE),
    )
