"""One board as it is to be: read from what a person wrote, and what was not written from what there is.

Every problem is found here before anything is written.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field

from monitor.boards import certificates, users
from monitor.boards.battery import VOLTAGES, Chemistry
from monitor.boards.card import (
    BATTERY,
    INTERVALS_S,
    LONGEST_WIFI_BYTES,
    MAINS,
    MOST_HOSTS,
    PROBE,
    SEND_EVERY,
    Card,
    is_wifi_name,
    is_wifi_password,
    made_card,
)
from monitor.boards.sensors import MOST_PROBES, full_spec, kind_of, measured_names, sensor_problems
from monitor.errors import MonitorError, Problem, UsageError, sentence
from monitor.logbook.amounts import find_place
from monitor.logbook.times import parse_length
from monitor.records import MS_PER_SECOND, PlaceKind
from monitor.settings.schema import Node, Settings

Trouble = Problem | MonitorError
USUAL_INTERVAL_S = 60
RAREST_S = 3600
"""A board that guards sends each hour or more often (choice): heat is told no earlier."""
_SECONDS = re.compile(r"([0-9]{1,6}) ?(?:s|sec|seconds|secondes)?", re.IGNORECASE)


def seconds_of(text: str) -> int:
    """An interval as people write it: 60, 60 s, 5 min; UsageError for what is none."""
    seconds = _SECONDS.fullmatch(text.strip())
    return int(seconds[1]) if seconds else parse_length(text) // MS_PER_SECOND


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a person wants of a board, as it was written. `wifi` None: the network that is remembered."""

    name: str
    place: str = ""
    sensors: tuple[str, ...] = ()
    probes: tuple[str, ...] = ()
    interval: str = ""
    send_every: int | None = None
    power: str = ""
    wifi: str | None = None
    wifi_password: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class BoardDraft:
    """`known` are its lines in the settings, `old` is its last card, where there are any.

    `remembered` is the network of the board before it and its password.
    """

    settings: Settings
    wanted: Wanted
    known: Node | None
    old: Card | None
    remembered: tuple[str, str] = field(default=("", ""), repr=False)

    def troubles(self, *, sensors: bool = True) -> Iterator[Trouble]:
        """All that is wrong with what was written; without `sensors` of the rest."""
        yield from self._place_troubles()
        yield from self._probe_troubles()
        if sensors:
            yield from self._sensor_troubles()
        yield from self._number_troubles()
        yield from self._wifi_troubles()

    # Each of these reads one thing, and raises UsageError where it cannot be read.

    def _titles(self) -> dict[str, str]:
        return {place.id: place.title for place in self.settings.places}

    def place(self) -> str | None:
        """The id of its place."""
        if not self.wanted.place:
            return self.known.place if self.known else None
        return find_place(self.wanted.place, self._titles())

    def _probes_written(self) -> list[tuple[str, str]]:
        """Name and place of each probe, as they were written."""
        parts = [written.partition("=") for written in self.wanted.probes]
        return [(name.strip(), place.strip()) for name, _, place in parts]

    def probes(self) -> dict[str, str | None]:
        """Its probes by name, each with the place in which it hangs where that is another one."""
        if not self.wanted.probes and not self.wanted.sensors and self.old is not None:
            placed = self.known.probes if self.known else {}
            return {name: placed.get(name) for name in self.old.probes}
        titles = self._titles()
        return {name: find_place(place, titles) if place else None for name, place in self._probes_written()}

    def sensors(self) -> tuple[str, ...]:
        """Its sensors as they stand on the card."""
        if not self.wanted.sensors and self.old is not None:
            return self.old.sensors
        written = [each for several in self.wanted.sensors for each in several.replace(",", " ").split()]
        return tuple(full_spec(each, self._kind()) for each in written)

    def _kind(self) -> PlaceKind | None:
        with suppress(UsageError):
            place = self.place()
            return next((each.kind for each in self.settings.places if each.id == place), None)
        return None

    def interval_s(self) -> int:
        """Seconds between two measurings."""
        if self.wanted.interval:
            return seconds_of(self.wanted.interval)
        if self.old is not None:
            return self.old.interval_s
        return round(self.known.interval_s) if self.known else USUAL_INTERVAL_S

    def send_every(self) -> int:
        """In every so many rounds it sends."""
        if self.wanted.send_every is not None:
            return self.wanted.send_every
        return self.old.send_every if self.old else 1

    def power(self) -> str:
        """What it lives on: mains or battery."""
        return self.wanted.power or (self.old.power if self.old else MAINS)

    def wifi(self) -> tuple[str, str]:
        """Its network and the password: as written, as remembered, as on the last card."""
        if self.wanted.wifi is not None:
            return self.wanted.wifi, self.wanted.wifi_password
        if self.remembered[0] or self.old is None:
            return self.remembered
        return self.old.wifi, self.old.wifi_password

    def _place_troubles(self) -> Iterator[Trouble]:
        try:
            place = self.place()
        except UsageError as error:
            yield error
            return
        if place is None:
            places = ", ".join(self._titles()) or sentence("none yet; add one to the settings")
            remedy = sentence("say where it hangs with {option}", option="--place")
            yield Problem(self.wanted.name, sentence("the place"), sentence("missing"), places, remedy)

    def _probe_troubles(self) -> Iterator[Trouble]:
        written, titles = self._probes_written(), self._titles()
        remedy = sentence("write each such as {example}, with a name of its own", example="p1=bin-4")
        for name, place in written:
            if not PROBE.fullmatch(name):
                allowed = sentence("at most 16 letters, digits, dots, dashes, underscores")
                yield Problem(self.wanted.name, sentence("the name of a probe"), f'"{name}"', allowed, remedy)
            try:
                find_place(place or next(iter(titles), ""), titles or {"": ""})
            except UsageError as error:
                yield error
        names = [name for name, _ in written]
        if len(set(names)) < len(names) or len(names) > MOST_PROBES:
            allowed = sentence("at most {most} names, each once", most=str(MOST_PROBES))
            yield Problem(self.wanted.name, sentence("the list of probes"), ", ".join(names), allowed, remedy)

    def _sensor_troubles(self) -> Iterator[Trouble]:
        names = [name for name, _ in self._probes_written()]
        if not self.wanted.probes and not self.wanted.sensors and self.old is not None:
            names = list(self.old.probes)
        yield from sensor_problems(self.wanted.name, self.sensors(), names)

    def _number_troubles(self) -> Iterator[Trouble]:
        name, interval_s = self.wanted.name, INTERVALS_S[0]
        try:
            interval_s = self.interval_s()
        except UsageError as error:
            yield error
        else:
            if not INTERVALS_S[0] <= interval_s <= INTERVALS_S[1]:
                found, remedy = (
                    sentence("{seconds} s", seconds=str(interval_s)),
                    sentence("write it such as {example}", example='"60 s"'),
                )
                yield Problem(name, sentence("the interval"), found, "10 s..1 h", remedy)
        if not SEND_EVERY[0] <= self.send_every() <= SEND_EVERY[1]:
            allowed = "{}..{}".format(*SEND_EVERY)
            remedy = sentence("1 sends each round at once; more saves the battery")
            yield Problem(name, "--send-every", str(self.send_every()), allowed, remedy)
        elif interval_s <= INTERVALS_S[1] and interval_s * self.send_every() > RAREST_S:
            found = sentence("{minutes} min", minutes=f"{interval_s * self.send_every() / 60:g}")
            remedy = sentence("heat is told that much later: measure more often, or send fewer in one go")
            yield Problem(name, sentence("the time between two sendings"), found, "1 h", remedy)
        if self.power() not in (MAINS, BATTERY):
            remedy = sentence("a board on battery sleeps between two rounds")
            yield Problem(name, "--power", f'"{self.power()}"', f"{MAINS}, {BATTERY}", remedy)

    def _wifi_troubles(self) -> Iterator[Trouble]:
        wifi, password = self.wifi()
        if not is_wifi_name(wifi):
            yield Problem(
                self.wanted.name,
                sentence("the name of the Wi-Fi"),
                f'"{wifi[:40]}"',
                sentence("the name of a network, at most {most} bytes", most=str(LONGEST_WIFI_BYTES)),
                sentence("write the name as the phone shows it; boards use 2.4 GHz alone"),
            )
        if not is_wifi_password(password):
            yield Problem(
                self.wanted.name,
                sentence("the password of the Wi-Fi"),
                sentence("not usable"),
                sentence("empty, or 8 to 63 plain letters, digits and signs"),
                sentence("type it as on the phone, or leave the Wi-Fi out: the board asks for it"),
            )

    # What follows, once there is no trouble.

    def node(self) -> Node:
        """Its lines in the settings."""
        probes, place, sensors = self.probes(), self.place(), self.sensors()
        known = self.known or Node(id=self.wanted.name)
        return known.model_copy(
            update={
                "place": place,
                "probes": {name: there for name, there in probes.items() if there and there != place},
                "measures": tuple(measured_names(sensors, tuple(probes))),
                "interval_s": float(self.interval_s()),
                "send_every": self.send_every(),
                "battery_low_v": self._battery_low_v(sensors),
                "out_of_service": False,
            }
        )

    def _battery_low_v(self, sensors: tuple[str, ...]) -> float | None:
        own = self.known.battery_low_v if self.known else None
        if not any(kind_of(spec) == BATTERY for spec in sensors):
            return None
        return own or VOLTAGES[Chemistry.LITHIUM_ION].charge_v

    def card(self, authority: str) -> Card:
        """Its card, with a new password; CardError for what the board would refuse."""
        broker, (wifi, wifi_password) = self.settings.broker, self.wifi()
        return made_card(
            Card(
                root=broker.topic_root,
                site=self.settings.site.id,
                node=self.wanted.name,
                hosts=(broker.boards_hosts or certificates.own_names())[:MOST_HOSTS],
                port=broker.boards_port,
                tls_name=certificates.BROKER_NAME,
                user=self.wanted.name,
                password=users.new_password(),
                interval_s=self.interval_s(),
                send_every=self.send_every(),
                power=self.power(),
                sensors=self.sensors(),
                probes=tuple(self.probes()),
                wifi=wifi,
                wifi_password=wifi_password,
                ca=authority,
            )
        )
