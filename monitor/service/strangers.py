"""What is remembered of senders that the settings do not name: their names must not fill memory and disk.

A board of the settings is always taken in. Of others the first so many names are, with a bounded number of
sensors; what comes beyond is refused with the reason, and counted without its name.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from monitor.intake.payload import SAMPLE_BYTES, Understood
from monitor.records import IncomingMessage, NodeMessage, Reading, Rejected, SensorKey
from monitor.service.watch import Watch
from monitor.store import Store


@dataclass(frozen=True, slots=True)
class Room:
    """How many unknown boards, sensors of one board, and sensors of all unknown boards there is room for."""

    boards: int = 2000
    sensors_of_board: int = 250
    sensors_of_strangers: int = 5000


ROOM = Room()


class Strangers:
    """Decides who is taken in. `is_known` says whether the settings name a board."""

    def __init__(
        self,
        is_known: Callable[[str], bool],
        boards: Iterable[str] = (),
        sensors: Iterable[SensorKey] = (),
        room: Room = ROOM,
    ) -> None:
        self._is_known, self._room = is_known, room
        self._boards = set(boards)
        self._sensors: dict[str, set[SensorKey]] = defaultdict(set)
        for sensor in sensors:
            self._sensors[sensor.node].add(sensor)
        self.count_anew()

    def count_anew(self) -> None:
        """Count again, once the settings name other boards than before."""
        self._boards = {node for node in (*self._boards, *self._sensors) if not self._is_known(node)}
        self._strange_sensors = sum(len(self._sensors.get(node, ())) for node in self._boards)

    def admit(self, understood: Understood, message: IncomingMessage) -> Understood:
        """What was understood, or a refusal in its place; readings of too many sensors are left out."""
        node = understood.node
        if node is None:
            return understood
        if not self._has_room(node):
            reason = (
                f"the settings do not name this board, and {self._room.boards} such boards are listed "
                "already; add it to [[nodes]]"
            )
            sample = bytes(message.payload[:SAMPLE_BYTES])
            return Rejected(None, message.topic, message.received_ms, reason, sample)
        return self._fitting(understood, message) if isinstance(understood, NodeMessage) else understood

    def _has_room(self, node: str) -> bool:
        if node in self._boards or self._is_known(node):
            return True
        if len(self._boards) >= self._room.boards:
            return False
        self._boards.add(node)
        return True

    def _fitting(self, understood: NodeMessage, message: IncomingMessage) -> NodeMessage | Rejected:
        kept = tuple(reading for reading in understood.readings if self._may_speak(reading))
        if len(kept) == len(understood.readings):
            return understood
        reason = f"the board has more sensors than are taken in ({len(self._sensors[understood.node])})"
        if kept:
            return replace(understood, readings=kept, skipped=(*understood.skipped, reason))
        sample = bytes(message.payload[:SAMPLE_BYTES])
        return Rejected(understood.node, message.topic, message.received_ms, reason, sample)

    def _may_speak(self, reading: Reading) -> bool:
        sensor = reading.sensor
        mine = self._sensors[sensor.node]
        if sensor in mine:
            return True
        is_stranger = sensor.node in self._boards
        crowded = is_stranger and self._strange_sensors >= self._room.sensors_of_strangers
        if crowded or len(mine) >= self._room.sensors_of_board:
            return False
        mine.add(sensor)
        self._strange_sensors += is_stranger
        return True


def strangers_of(store: Store, watch: Watch) -> Strangers:
    """With the boards and sensors that the store knows already."""
    boards = [facts.node for facts in store.nodes.every()]
    return Strangers(lambda node: node in watch.plan.nodes, boards, store.readings.sensors())
