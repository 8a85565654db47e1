"""The commented settings file that `init` writes: every key with its meaning, limits and default.

A farm is laid out from a few numbers: places, and one board for each place. `say` turns a phrase into text of
a language; without it the file is in English, as `config/farm.example.toml` is.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from monitor.errors import Phrase, Sentence, sentence
from monitor.records import PlaceKind
from monitor.settings.problems import KeyFacts, Location, key_facts, keys_at, table_meaning, toml_value

PlainTables = dict[str, Any]
Say = Callable[[Phrase], str]

_AIR = ["air_temperature", "air_humidity"]
_SUBSTRATE = ["substrate_temperature", "substrate_moisture"]
_LAYOUT: Mapping[PlaceKind, tuple[str, Sentence, list[str]]] = {
    PlaceKind.ROOM: ("room", sentence("Room {name}"), _AIR),
    PlaceKind.LOVE_CAGE: ("cage", sentence("Love cage {name}"), [*_AIR, "light"]),
    PlaceKind.HATCHING_TRAY: ("tray", sentence("Hatching tray {name}"), [*_AIR, "surface_temperature"]),
    PlaceKind.GROW_OUT_BIN: ("bin", sentence("Grow-out bin {name}"), _SUBSTRATE),
    PlaceKind.PUPATION_BOX: ("box", sentence("Pupation box {name}"), _AIR),
}
_WIDTH = 100
# What stands behind a key that has no default, so that a person sees its form.
_EXAMPLES: Mapping[str, object] = {
    "site.eggs_g_a_week": 50.0,
    "store.backup_folder": "backups",
    "store.backup_passphrase": "REARING_COPIES_PASSPHRASE",
    "broker.username": "rearing-monitor",
    "broker.password": "REARING_BROKER_PASSWORD",
    "broker.ca_file": "certificates/broker-ca.pem",
    "broker.client_certificate": "certificates/monitor.pem",
    "broker.client_key": "certificates/monitor.key",
    "broker.files": "/etc/mosquitto/rearing",
    "recipients.address": "REARING_SECOND_ADDRESS",
    "messages.heartbeat_url": "REARING_HEARTBEAT_URL",
    "page.https_port": 8443,
    "page.password": "REARING_PAGE_PASSWORD",
    "page.public_address": "https://farm.example/",
    "archive.url": "http://192.168.1.20:8086",
    "archive.bucket": "rearing",
    "archive.token": "REARING_ARCHIVE_TOKEN",
    "archive.read_url": "http://192.168.1.20:8481/select/0/prometheus",
    "archive.read_token": "REARING_ARCHIVE_READ_TOKEN",
    "archive.kind": "victoria",
    "prices.currency": "P",
    "prices.egg_gram": 2.5,
    "prices.larvae_kg": 12.0,
    "prices.feed_kg": 0.1,
    "prices.feeds": {"bran": 0.5},
}
# One commented-out entry for each list, shown when the farm has none of its own (recipients: always).
_SAMPLES: Mapping[str, Mapping[str, object]] = {
    "intake.plain": {
        "topic": "sheds/{node}/temperature",
        "quantity": "air_temperature",
        "unit": "degF",
    },
    "places": {"id": "bin-7", "kind": "grow_out_bin", "title": "Grow-out bin 7", "room": "room-1"},
    "nodes": {"id": "node-15", "place": "bin-7", "measures": ["substrate_temperature"]},
    "rules": {
        "place_kind": "hatching_tray",
        "quantity": "air_humidity",
        "side": "low",
        "priority": "medium",
        "setpoint": 65.0,
        "on_delay_minutes": 10.0,
    },
    "own_numbers": {
        "stage": "larva",
        "number": "thermal_constant_dd",
        "value": 280.0,
        "source": "mean of the batches of last summer",
    },
    "recipients": {
        "id": "neighbour",
        "address_env": "REARING_SECOND_ADDRESS",
        "order": 2,
        "priorities": ["high"],
        "quiet_hours": {"start": "21:00", "end": "05:30"},
        "night_report": False,
    },
    "copies": {
        "id": "away",
        "url": "sftp://copies.example/rearing",
        "username": "rearing",
        "password_file": "secrets/copies-away",
    },
}
_EXPLAINED = sentence("{meaning} ({allowed}; {default})")
_ALWAYS_SAMPLED = frozenset({"rules", "recipients", "intake.plain"})
_HEAD = (
    sentence("Settings of rearing-monitor."),
    sentence(
        """Everything after a # is a comment. A key that is commented out has the value shown, or is left out.
After a change: `rearing-monitor check` says what is wrong and what each place is guarded for.
Times of day are local times of the farm; temperatures are in °C, humidity in %RH (0 to 100),
substrate moisture is a share from 0 to 1."""
    ),
    sentence(
        """Secrets (addresses of people, passwords, tokens) are kept outside this file. Write one of
  password_env = "NAME"     the environment variable NAME holds it
  password_file = "PATH"    the file PATH holds it; only its owner may read it (chmod 600 PATH)
and in the same way address_env, token_env, heartbeat_url_env."""
    ),
)


@dataclass(frozen=True, slots=True)
class Counts:
    """How many of each kind of place there are."""

    cages: int = 1
    trays: int = 1
    bins: int = 1
    boxes: int = 1
    rooms: int = 1


@dataclass(frozen=True, slots=True)
class BrokerPlan:
    """A broker that runs already, and the user at it; its password lies in a file."""

    host: str
    port: int = 1883
    username: str = ""
    password_file: str = ""

    def table(self) -> PlainTables:
        """The keys of [broker] that differ from their defaults."""
        table: PlainTables = {"embedded": False, "host": self.host, "port": self.port}
        if self.username:
            table["username"] = self.username
        if self.password_file:
            table["password_file"] = self.password_file
        return table


@dataclass(frozen=True, slots=True)
class FarmPlan:
    """What `init` has to know. No `broker`: the embedded broker. No `recipient`: nobody yet.

    `room_of` says in which room (1, 2, ...) the places of a kind stand, else in the first. `boards` are pairs
    of board and place (None: not hung yet); without it a board hangs in each place.
    """

    title: str
    time_zone: str
    altitude_m: float = 0.0
    counts: Counts = Counts()
    broker: BrokerPlan | None = None
    recipient: Mapping[str, str] | None = None
    language: str = "en"
    room_of: Mapping[PlaceKind, int] = field(default_factory=dict)
    boards: Sequence[tuple[str, str | None]] | None = None


def farm_tables(plan: FarmPlan, say: Say = str) -> PlainTables:
    """The plain tables of the file for a new farm."""
    tables: PlainTables = {
        "site": {
            "id": identifier(plan.title),
            "title": plan.title,
            "time_zone": plan.time_zone,
            "altitude_m": plan.altitude_m,
            "language": plan.language,
        },
        "broker": {"embedded": True} if plan.broker is None else plan.broker.table(),
        "places": planned_places(plan, say),
    }
    tables["nodes"] = _nodes(plan, tables["places"])
    if plan.recipient is not None:
        tables["recipients"] = [{"id": "owner", **plan.recipient}]
    return tables


def planned_places(plan: FarmPlan, say: Say = str) -> list[PlainTables]:
    """The places of a new farm, rooms first."""
    counts = plan.counts
    rooms = [_place(PlaceKind.ROOM, number, None, say) for number in range(1, counts.rooms + 1)]

    def room_of(kind: PlaceKind) -> str | None:
        return f"room-{plan.room_of.get(kind, 1)}" if counts.rooms else None

    return [*rooms, *_places(counts, room_of, say)]


def _nodes(plan: FarmPlan, places: Sequence[PlainTables]) -> list[PlainTables]:
    if plan.boards is None:
        return [_node(f"node-{number:02d}", place) for number, place in enumerate(places, start=1)]
    by_id = {place["id"]: place for place in places}
    return [_node(board, by_id[place]) if place else {"id": board} for board, place in plan.boards]


def identifier(title: str) -> str:
    """A short name for topics from a name for people: Sand Hill Farm becomes sand-hill-farm."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:40].strip("-") or "farm"


def _places(
    counts: Counts, room_of: Callable[[PlaceKind], str | None], say: Say = str
) -> Iterator[PlainTables]:
    for kind, count in (
        (PlaceKind.LOVE_CAGE, counts.cages),
        (PlaceKind.HATCHING_TRAY, counts.trays),
        (PlaceKind.GROW_OUT_BIN, counts.bins),
        (PlaceKind.PUPATION_BOX, counts.boxes),
    ):
        yield from (_place(kind, number, room_of(kind), say) for number in range(1, count + 1))


def _place(kind: PlaceKind, name: int | str, room: str | None, say: Say = str) -> PlainTables:
    short, title, _ = _LAYOUT[kind]
    shown = say(Sentence(title.english, {"name": str(name)}))
    place = {"id": f"{short}-{str(name).lower()}", "kind": kind.value, "title": shown}
    return place if room is None else place | {"room": room}


def _node(board: str, place: PlainTables) -> PlainTables:
    measures = [*_LAYOUT[PlaceKind(place["kind"])][2], "battery"]
    return {"id": board, "place": place["id"], "measures": measures, "battery_low_v": 3.4}


def saltbush_yard() -> PlainTables:
    """The invented farm of the example and the demo: fifteen places, fourteen boards, two rooms."""
    rooms = {PlaceKind.LOVE_CAGE: "room-a", PlaceKind.HATCHING_TRAY: "room-a"}
    places = [
        *(_place(PlaceKind.ROOM, letter, None) for letter in "AB"),
        *_places(Counts(cages=2, trays=3, bins=6, boxes=2), lambda kind: rooms.get(kind, "room-b")),
    ]
    nodes = [_node(f"node-{number:02d}", place) for number, place in enumerate(places[:-1], start=1)]
    last, second_box = nodes[-1], places[-1]["id"]
    last["probes"] = {"second": second_box}
    last["measures"] += [f"second/{quantity}" for quantity in _AIR]
    return {
        "site": {
            "id": "saltbush-yard",
            "title": "Saltbush Yard",
            "time_zone": "Africa/Gaborone",
            "altitude_m": 1100.0,
        },
        "broker": {"embedded": False, "host": "127.0.0.1", "port": 1883},
        "places": places,
        "nodes": nodes,
        "recipients": [{"id": "owner", "address_env": "REARING_OWNER_ADDRESS"}],
    }


def render(values: Mapping[str, Any], note: str = "", say: Say = str) -> str:
    """Write a whole farm, given as the plain tables of the file, with every key explained."""
    lines = [*_comment(note), *_comment("\n\n".join(say(paragraph) for paragraph in _HEAD))]
    writer = _Writer(say)
    for name in keys_at(()):
        lines += ["", *writer.section((name,), values.get(name))]
    return "\n".join(lines) + "\n"


class _Writer:
    """Sections of the file in the language of `say`."""

    def __init__(self, say: Say) -> None:
        self._say = say

    def section(self, table: tuple[str, ...], values: Any) -> Iterator[str]:
        """The lines of a table and of the lists in it."""
        if _is_list(table):
            yield from self._list_section(table, values or ())
            return
        optional = table in (("archive",), ("prices",)) and values is None
        yield from _comment(self._say(table_meaning(table)))
        yield ("# " if optional else "") + f"[{'.'.join(table)}]"
        for name in keys_at(table):
            if not _is_list((*table, name)):
                yield from self._key(table, name, values or {})
        for name in keys_at(table):
            if _is_list((*table, name)):
                yield ""
                yield from self._list_section((*table, name), (values or {}).get(name, ()))

    def _key(self, table: Sequence[str], name: str, values: Mapping[str, Any]) -> Iterator[str]:
        facts = key_facts(table, name)
        yield from _comment(self._explained(facts))
        written = {key: values[key] for key in (name, f"{name}_env", f"{name}_file") if key in values}
        if written:
            yield from (f"{key} = {toml_value(value)}" for key, value in written.items())
        else:
            yield "# " + _unset(table, facts)

    def _explained(self, facts: KeyFacts) -> str:
        if facts.required:
            default = sentence("must be given")
        elif facts.default in (None, '""'):
            default = sentence("may be left out")
        else:
            default = sentence("default {value}", value=facts.default)
        values = {"meaning": facts.meaning, "allowed": facts.allowed, "default": default}
        return self._say(Sentence(_EXPLAINED.english, values))

    def _list_section(self, table: tuple[str, ...], entries: Sequence[Mapping[str, Any]]) -> Iterator[str]:
        name = ".".join(table)
        item: Location = (*table, 0)
        keys = sentence("One {table} for each, with these keys:", table=f"[[{name}]]")
        yield from _comment(f"{self._say(table_meaning(item))} {self._say(keys)}")
        for key in keys_at(item):
            yield from self._legend(key_facts(item, key))
        for entry in entries:
            yield from ("", *_entry(name, entry))
        if not entries or name in _ALWAYS_SAMPLED:
            yield from ("", *(f"# {line}" for line in _entry(name, _SAMPLES[name])))

    def _legend(self, facts: KeyFacts) -> Iterator[str]:
        text = f"{facts.name}{'_env' if facts.secret else ''}: {self._explained(facts)}"
        for line in textwrap.wrap(text, _WIDTH - 4, subsequent_indent="    ", break_on_hyphens=False):
            yield f"#   {line}"


def _is_list(table: Sequence[str]) -> bool:
    return bool(keys_at((*table, 0)))


def _unset(table: Sequence[str], facts: KeyFacts) -> str:
    example = _EXAMPLES.get(".".join((*table, facts.name)))
    suffix = "_env" if facts.secret else ""
    return f"{facts.name}{suffix} = {facts.default if example is None else toml_value(example)}"


def _entry(name: str, entry: Mapping[str, Any]) -> Iterator[str]:
    yield f"[[{name}]]"
    yield from (f"{key} = {toml_value(value)}" for key, value in entry.items())


def _comment(text: str) -> Iterator[str]:
    for paragraph in text.splitlines():
        lines = [paragraph] if len(paragraph) < _WIDTH else textwrap.wrap(paragraph, _WIDTH - 2)
        yield from (f"# {line}".rstrip() for line in lines)
