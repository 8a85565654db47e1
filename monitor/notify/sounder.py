"""The sounder in the barn: on while an alarm of high priority stands and nobody has acknowledged it.

It needs no internet: a board that listens to the retained topic switches a buzzer of extra-low voltage.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from monitor.records import AlarmRule, AlarmState, AlarmStatus, Priority

Publish = Callable[[str, bytes, bool], object]
"""Sends (topic, payload, retain) to the broker."""

ON, OFF = b"on", b"off"


def sounder_topic(topic_root: str, site: str) -> str:
    """The topic that boards with a buzzer listen to."""
    return f"{topic_root}/{site}/sounder"


def should_sound(states: Iterable[AlarmState], rules: Mapping[str, AlarmRule]) -> bool:
    """True while any `high` alarm is unacknowledged; acknowledged, shelved or returned ones are silent."""
    return any(
        state.status is AlarmStatus.UNACKNOWLEDGED and rules[state.alarm_id].priority is Priority.HIGH
        for state in states
        if state.alarm_id in rules
    )


class Sounder:
    """Publishes `on` and `off`, retained, when it changes and after each new connection to the broker."""

    def __init__(self, publish: Publish, topic: str) -> None:
        self._publish, self._topic = publish, topic
        self._sounding: bool | None = None

    @property
    def sounding(self) -> bool:
        """Whether it is on."""
        return bool(self._sounding)

    def update(self, states: Iterable[AlarmState], rules: Mapping[str, AlarmRule]) -> None:
        """Follow the alarms; the first call always publishes, so a state left by a crash does not stay."""
        wanted = should_sound(states, rules)
        if wanted is not self._sounding:
            self._sounding = wanted
            self.repeat()

    def repeat(self) -> None:
        """Say it again, after the connection to the broker was lost."""
        if self._sounding is not None:
            self._publish(self._topic, ON if self._sounding else OFF, True)
