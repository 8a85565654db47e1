"""A farm on disk that is set up for boards: settings with comments, keys, users, a real broker or none."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from page_farm import OWNER_HASH
from tls_broker import TlsBroker

from monitor.boards import broker_files
from monitor.boards.card import Card, card_in_file
from monitor.boards.draft import Wanted
from monitor.boards.enrolment import Office
from monitor.page.context import PageContext
from monitor.settings.loading import read
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.terminal.context import clock_ms

NOW_MS = 1_790_000_000_000
SETTINGS = """\
# our farm
[site]
id = "saltbush-yard"
title = "Saltbush Yard"
time_zone = "Africa/Gaborone"

{broker}
[page]
enabled = true
listen = "127.0.0.1"

[[places]]
id = "room-1"
kind = "room"

[[places]]
id = "bin-4"
kind = "grow_out_bin"
title = "By the door"
room = "room-1"

[[places]]
id = "bin-5"
kind = "grow_out_bin"

# the first board, from last year
[[nodes]]
id = "node-01"
place = "room-1"  # under the tin

"""


@dataclass
class EnrolledFarm:
    """`tree` is all that lies in its folder, for "nothing was changed"."""

    folder: Path
    broker: TlsBroker = field(init=False)

    def __post_init__(self) -> None:
        self.broker = TlsBroker(self.folder / "broker")
        self.path.write_text(SETTINGS.format(broker=self._table()), encoding="utf-8")
        self.path.chmod(0o600)

    def _table(self) -> str:
        keys: dict[str, Any] = {
            **self.broker.settings(),
            "files": str(self.broker.files.folder),
            "boards_folder": str(self.broker.boards),
            "boards_hosts": ["farm-pc.local", "127.0.0.1"],
            "boards_port": self.broker.boards_port,
        }
        return "[broker]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items())

    @property
    def path(self) -> Path:
        """Its settings file."""
        return self.folder / "farm.toml"

    @property
    def settings(self) -> Settings:
        """Its settings as they are now."""
        return read(self.path).settings

    def office(self, **changes: Any) -> Office:
        """Where its boards are enrolled; without a broker that runs, nobody proves anything."""
        quiet = {"prove": lambda *_: True, "reload": lambda _: broker_files.Reload.DONE}
        real = {} if self.broker.process else quiet
        return Office(read(self.path), NOW_MS, **{**real, **changes})

    def store(self) -> Store:
        """Its database, made when it is not there yet."""
        return Store.open(self.settings.store.path)

    def users(self) -> tuple[str, ...]:
        """Whom the broker's users file names."""
        return broker_files.user_names(self.broker.files)

    def cards(self) -> dict[str, Card]:
        """The cards that lie there, by board."""
        return {path.stem: card_in_file(path) for path in (self.broker.boards / "cards").glob("*.json")}

    def tree(self) -> dict[str, tuple[int, bytes]]:
        """Every file with its rights and content, but what mosquitto itself writes."""
        own = {"mosquitto.log", "output", "mosquitto.pid"}
        return {
            str(path.relative_to(self.folder)): (path.stat().st_mode & 0o7777, path.read_bytes())
            for path in sorted(self.folder.rglob("*"))
            if path.is_file() and path.name not in own and "data" not in path.parts
        }


@contextlib.contextmanager
def running_farm(folder: Path) -> Iterator[EnrolledFarm]:
    """The farm with its broker."""
    farm = EnrolledFarm(folder)
    with farm.broker:
        yield farm


def wanted(name: str = "node-03", **changes: Any) -> Wanted:
    """A board with two probes in two bins."""
    plain: dict[str, Any] = {
        "place": "bin-4",
        "sensors": ("ds18b20", "sht4x"),
        "probes": ("p1=bin-4", "p2=bin-5"),
        "wifi": "Yard",
        "wifi_password": "wet thumbs 12",
    }
    return Wanted(name, **{**plain, **changes})


@dataclass
class EnrolledPage:
    """The page of such a farm; no service runs, and changed settings are taken over at once."""

    farm: EnrolledFarm
    context: PageContext = field(init=False)
    _plan: Plan = field(init=False)

    def __post_init__(self) -> None:
        self.farm.store().close()
        self._read()
        self.context = PageContext(
            store_path=self.farm.settings.store.path,
            plan=lambda: self._plan,
            clock=clock_ms,
            password=OWNER_HASH,
            settings_path=self.farm.path,
            request_reload=self._read,
        )

    def _read(self) -> None:
        self._plan = build_plan(self.farm.settings)
