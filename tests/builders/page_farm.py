"""The invented farm with two days of readings and some trouble, a real service, and its page."""

from __future__ import annotations

import json
import math
import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.demo.runner import DemoPlan, demo_environment, demo_settings
from monitor.page.context import PageContext
from monitor.page.security import hash_password
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, IncomingMessage
from monitor.service import Service
from monitor.settings.loading import load
from monitor.settings.plan import Plan
from monitor.settings.schema import Settings

ZONE = ZoneInfo("Africa/Gaborone")
MORNING = datetime(2026, 9, 24, 6, 40, tzinfo=ZONE)
NOW_MS = round(MORNING.timestamp() * 1000)
PASSWORD, HELPER_PASSWORD = "a-long-password-of-the-owner", "helpers-have-this-one"
OWNER_HASH = hash_password(PASSWORD)
STEP_MS = 5 * MS_PER_MINUTE
HISTORY_MS = 38 * MS_PER_HOUR
UNITS = {
    "air_temperature": "Cel",
    "air_humidity": "%RH",
    "substrate_temperature": "Cel",
    "substrate_moisture": "/",
    "surface_temperature": "Cel",
    "light": "lx",
    "battery": "V",
    "carbon_dioxide": "ppm",
    "ammonia": "ppm",
}
NASTY = '"><script>alert(1)</script>'


def value_of(node: str, place: str, quantity: str, at_ms: int) -> float:
    """A plausible reading: warm days, cool nights; one bin overheats, one tray dries, one board dies."""
    hour = (at_ms / MS_PER_HOUR + 2.0) % 24.0
    day = math.sin((hour - 9.0) / 24.0 * 2 * math.pi)
    wobble = 0.15 * math.sin(at_ms / 700_000 + len(node) + ord(node[-1]))
    ago_h = (NOW_MS - at_ms) / MS_PER_HOUR
    match quantity:
        case "air_temperature":
            return (28.0 if place.startswith("tray") else 27.0) + 3.0 * day + wobble
        case "air_humidity":
            dry = place == "tray-2" and ago_h < 4.0
            return (71.0 - 5.0 * day if not dry else 56.0) + 3 * wobble
        case "substrate_temperature":
            hot = place == "bin-3" and ago_h < 3.0
            return (44.4 - 3.0 * ago_h if hot else 31.0 + 1.2 * day) + wobble
        case "substrate_moisture":
            return 0.63 - 0.0004 * (38 - ago_h)
        case "light":
            return max(0.0, 9000.0 * day)
        case "surface_temperature":
            return value_of(node, place, "air_temperature", at_ms) - 2.0
        case "battery":
            return 3.2 if place == "box-1" else 3.9
        case _:
            return 20.0 + wobble


def pack(node: str, place: str, measures: tuple[str, ...], at_ms: int, sequence: int) -> bytes:
    """One SenML pack of a board."""
    records: list[dict[str, object]] = [
        {
            "n": each,
            "u": UNITS[each.rpartition("/")[2]],
            "v": value_of(node, place, each.rpartition("/")[2], at_ms),
        }
        for each in measures
    ]
    records += [{"n": "boot", "u": "count", "v": 1}, {"n": "sequence", "u": "count", "v": sequence}]
    records[0] |= {"bt": at_ms / 1000}
    return json.dumps(records).encode()


STRICT = "".join(
    f"""
[[rules]]
place_kind = "grow_out_bin"
quantity = "substrate_temperature"
side = "high"
priority = "{priority}"
setpoint = {setpoint}
"""
    for priority, setpoint in (("high", 42.0), ("medium", 38.0))
)
"""This farm is stricter about heat than the defaults."""


@dataclass(slots=True)
class Clock:
    """Stands still until somebody moves it."""

    now_ms: int = NOW_MS - HISTORY_MS

    def __call__(self) -> int:
        return self.now_ms


@dataclass(slots=True)
class PageFarm:
    """The farm: its service takes turns in a thread while something is asked of it."""

    folder: Path
    history_ms: int = HISTORY_MS
    step_ms: int = STEP_MS
    clock: Clock = field(default_factory=Clock)
    service: Service = field(init=False)
    context: PageContext = field(init=False)
    _stop: threading.Event = field(default_factory=threading.Event)
    _turn_taken: threading.Lock = field(default_factory=threading.Lock)

    @property
    def settings_path(self) -> Path:
        return self.folder / "farm.toml"

    def build(self) -> None:
        """Write settings, take in two days, and get the page's context ready."""
        self.clock.now_ms = NOW_MS - self.history_ms
        environ = demo_environment(self.folder)
        self.settings_path.write_text(
            demo_settings(DemoPlan(self.folder, start=MORNING), 1883) + STRICT, encoding="utf-8"
        )
        settings = load(self.settings_path, environ)
        self.service = Service(settings, settings_path=self.settings_path, clock=self.clock, inline=True)
        self.service.prepare()
        self._history(settings)
        self.context = PageContext(
            store_path=settings.store.path,
            plan=self.plan,
            clock=self.clock,
            password=OWNER_HASH,
            settings_path=self.settings_path,
            request_reload=self._reload,
            environ=environ,
            invented=True,
        )
        self.service.processor.on_event = self.context.feed.note

    def plan(self) -> Plan:
        return self.service.processor.site.plan

    def _history(self, settings: Settings) -> None:
        for sequence, at_ms in enumerate(range(NOW_MS - self.history_ms, NOW_MS + 1, self.step_ms), 1):
            self.clock.now_ms = at_ms
            messages = [
                self._message(node.id, node.place or "", node.measures, at_ms, sequence)
                for node in settings.nodes
                if not (node.place == "bin-5" and at_ms > NOW_MS - 5 * MS_PER_HOUR)
                and not (
                    node.place == "cage-2" and NOW_MS - 9 * MS_PER_HOUR < at_ms < NOW_MS - 7 * MS_PER_HOUR
                )
            ]
            self.service.processor.process(messages, at_ms)
            self.service.worker.step(at_ms)
        self._strangers()
        self.service._sign_of_life(self.clock())

    def _strangers(self) -> None:
        for name in ("node-77", NASTY):
            message = self._message(name, "", ("air_temperature", "battery"), NOW_MS - MS_PER_MINUTE, 1)
            self.service.processor.process([message], NOW_MS)

    def pass_time(self, until_ms: int, step_ms: int = 20 * MS_PER_MINUTE) -> None:
        """Boards go on to send until then; the hot bin has cooled down, and who was silent stays so."""
        steps = range(self.clock.now_ms + step_ms, until_ms + step_ms, step_ms)
        nodes = [node for node in self.service.settings.nodes if node.place != "bin-5"]
        for sequence, at_ms in enumerate(steps, self.history_ms // self.step_ms + 2):
            messages = []
            for node in nodes:
                body = pack(node.id, node.place or "", node.measures, at_ms, sequence)
                if node.place == "bin-3":
                    body = pack(node.id, "bin-1", node.measures, at_ms, sequence)
                messages.append(IncomingMessage(f"rearing/saltbush-yard/{node.id}/readings", body, at_ms))
            with self._turn_taken:
                self.clock.now_ms = min(at_ms, until_ms)
                self.service.processor.process(messages, at_ms)
                self.service.worker.step(at_ms)
                self.service._sign_of_life(at_ms)

    def cool_down(self, place: str) -> None:
        """A place comes back to where it should be, as its board tells over the next half hour."""
        node = next(each for each in self.service.settings.nodes if each.place == place)
        for sequence in range(10_000, 10_016):
            self.clock.now_ms += 2 * MS_PER_MINUTE
            body = pack(node.id, "bin-1", node.measures, self.clock(), sequence)
            topic = f"rearing/saltbush-yard/{node.id}/readings"
            self.service.processor.process([IncomingMessage(topic, body, self.clock())], self.clock())
            self.service._sign_of_life(self.clock())

    def _message(
        self, node: str, place: str, measures: tuple[str, ...], at_ms: int, sequence: int
    ) -> IncomingMessage:
        return IncomingMessage(
            f"rearing/saltbush-yard/{node}/readings", pack(node, place, measures, at_ms, sequence), at_ms
        )

    def _reload(self) -> None:
        environ = dict(self.context.environ)
        self.service._take_over(load(self.settings_path, environ), self.clock())
        self.context.feed.note()

    @contextmanager
    def turning(self) -> Iterator[None]:
        """While inside, requests are carried out as by a service that runs."""
        thread = threading.Thread(target=self._turn, daemon=True)
        thread.start()
        try:
            yield
        finally:
            self._stop.set()
            thread.join(5.0)

    def _turn(self) -> None:
        while not self._stop.wait(0.02):
            with self._turn_taken:
                self.service._follow_occupancy(self.clock())
                if self.service.store.commands.pending():
                    self.clock.now_ms += 2000
                    self.service.processor.process([], self.clock())

    def close(self) -> None:
        self.service.store.close()


def wait_for(condition: object, seconds: float = 10.0) -> bool:
    """Poll until it is so."""
    assert callable(condition)
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if condition():
            return True
        time.sleep(0.02)
    return bool(condition())


def form_token(page: str) -> str:
    """The token that the forms of a page bring along."""
    found = re.search(r'name="form_token" value="([^"]+)"', page)
    assert found is not None, "the page has no form"
    return found[1]
