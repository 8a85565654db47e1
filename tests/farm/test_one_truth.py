"""Random farms: page, command line, message and night report say the same, which is what the record says."""

from __future__ import annotations

import contextlib
import html
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import pytest
from cli_farm import message, reading
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.requests import Request

from monitor.cli.app import run
from monitor.farm.night import NightReader, last_night
from monitor.farm.places import site_now
from monitor.farm.records import MATTERS, ActiveAlarm, PlaceNow, PlaceState, SiteNow
from monitor.page.app import PARTS
from monitor.page.context import PageContext
from monitor.page.now import show_now, show_place
from monitor.page.security import Role, Session, Sessions, Throttle
from monitor.page.serving import AppState, Renderer, RequestContext, static_files
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    AlarmEvent,
    Batch,
    Calibration,
    Flag,
    FlaggedReading,
    PlaceKind,
    Quantity,
    SensorKey,
)
from monitor.service.messages import AlarmViewBuilder
from monitor.service.service import restore
from monitor.settings.loading import load
from monitor.settings.plan import Plan, build_plan, stale_after_s
from monitor.store import Store
from monitor.store.meta import DEMO_CLOCK
from monitor.words import alarm_messages
from monitor.words.alarms import condition, has_own_sentence, notes
from monitor.words.guard import unguarded
from monitor.words.localizer import DisplayPreferences, Localizer, inside
from monitor.words.night import report_text
from monitor.words.places import alarm_outlook, shown, unknown, verdict

ZONE = ZoneInfo("Africa/Gaborone")
NOW_MS = round(datetime(2026, 11, 25, 6, 40, tzinfo=ZONE).timestamp() * 1000)
HISTORY_MIN = 40
SITE = """\
[site]
id = "sand-hill"
title = "Sand Hill"
time_zone = "Africa/Gaborone"
language = "{language}"
[[recipients]]
id = "owner"
address_env = "OWNER_ADDRESS"
"""
PLACE = '[[places]]\nid = "{id}"\nkind = "{kind}"\nempty = {empty}\n'
NODE = '[[nodes]]\nid = "node-{id}"\nplace = "{id}"\nmeasures = {measures}\n'
LEVELS = {
    Quantity.AIR_TEMPERATURE: (5.0, 45.0),
    Quantity.SUBSTRATE_TEMPERATURE: (10.0, 50.0),
    Quantity.AIR_HUMIDITY: (20.0, 95.0),
    Quantity.SUBSTRATE_MOISTURE: (0.2, 0.9),
    Quantity.LIGHT: (0.0, 9000.0),
}


@dataclass(frozen=True)
class RandomSensor:
    """A sensor whose values run along a straight line up to its last reading."""

    level: float
    per_hour: float
    flag: Flag
    silent_min: int | None
    offset: float


@dataclass(frozen=True)
class RandomPlace:
    """A place with its sensors in the order of what matters to its kind."""

    kind: PlaceKind
    empty: bool
    sensors: tuple[RandomSensor, ...]


@dataclass(frozen=True)
class RandomFarm:
    """Places, what a person did to the alarms that stand, in turn, and whether the service runs."""

    places: tuple[RandomPlace, ...]
    deeds: tuple[AlarmEvent | None, ...]
    alive: bool
    language: str


@st.composite
def sensors(draw: st.DrawFn, quantity: str) -> RandomSensor:
    low, high = LEVELS[Quantity(quantity)]
    return RandomSensor(
        level=draw(st.floats(low, high)),
        per_hour=draw(st.sampled_from((-0.1, 0.0, 0.01, 0.1))) * (high - low),
        flag=draw(st.sampled_from((Flag.PASS, Flag.PASS, Flag.SUSPECT, Flag.FAIL))),
        silent_min=draw(st.sampled_from((0, 0, 0, 3, 25, None))),
        offset=draw(st.sampled_from((0.0, 0.0, 0.02))) * (high - low),
    )


@st.composite
def places(draw: st.DrawFn) -> RandomPlace:
    kind = draw(st.sampled_from(PlaceKind))
    known = draw(st.integers(0, len(MATTERS[kind])))
    measured = tuple(draw(sensors(quantity)) for quantity in MATTERS[kind][:known])
    return RandomPlace(kind, draw(st.booleans()) and draw(st.booleans()), measured)


FARMS = st.builds(
    RandomFarm,
    st.lists(places(), min_size=1, max_size=5).map(tuple),
    st.lists(
        st.sampled_from((None, None, AlarmEvent.ACKNOWLEDGE, AlarmEvent.SHELVE, AlarmEvent.TAKE_OUT)),
        min_size=1,
        max_size=4,
    ).map(tuple),
    st.booleans(),
    st.sampled_from(("en", "fr")),
)


@dataclass(frozen=True)
class Surfaces:
    """What a person reads, as words with single blanks: as a whole, and what stands there of each place.

    `states` are those that the page shows by its layout.
    """

    page: str
    page_places: dict[str, str]
    states: dict[str, str]
    place_pages: dict[str, str]
    command_line: str
    command_line_places: dict[str, str]
    report: str
    report_places: dict[str, str]
    messages: dict[str, alarm_messages.Text]


def _flat(text: str) -> str:
    return " ".join(text.replace("\u00a0", " ").replace("−", "-").split())


def _without_tags(page: str) -> str:
    return _flat(html.unescape(re.sub(r"<[^>]+>", " ", page)))


def _name(at: int) -> str:
    return f"place-{chr(ord('a') + at)}"


def _settings_text(farm: RandomFarm) -> str:
    parts = [SITE.format(language=farm.language)]
    for at, place in enumerate(farm.places):
        measures = [str(quantity) for quantity in MATTERS[place.kind][: len(place.sensors)]]
        parts.append(PLACE.format(id=_name(at), kind=place.kind, empty=str(place.empty).lower()))
        parts.append(NODE.format(id=_name(at), measures=measures))
    return "\n".join(parts)


def _readings(farm: RandomFarm) -> Iterator[FlaggedReading]:
    for at, place in enumerate(farm.places):
        for sensor, quantity in zip(place.sensors, MATTERS[place.kind], strict=False):
            key = SensorKey(f"node-{_name(at)}", "", quantity)
            for minute in range(HISTORY_MIN, -1, -1) if sensor.silent_min is not None else ():
                value = sensor.level - sensor.per_hour * minute / 60.0
                at_ms = NOW_MS - (minute + (sensor.silent_min or 0)) * MS_PER_MINUTE
                yield reading(key, at_ms, value, sensor.flag)


def _stored(farm: RandomFarm, store: Store, plan: Plan) -> AlarmViewBuilder:
    """Put the farm into the store as the service would have; gives what messages look at."""
    store.commit(Batch(NOW_MS, tuple(message(each) for each in _readings(farm))))
    for at, place in enumerate(farm.places):
        for sensor, quantity in zip(place.sensors, MATTERS[place.kind], strict=False):
            if sensor.offset:
                store.calibrations.add(
                    Calibration(SensorKey(f"node-{_name(at)}", "", quantity), 0, 1.0, sensor.offset)
                )
    store.meta.put(DEMO_CLOCK, str(NOW_MS))
    store.meta.put("first_started_ms", "0")
    store.runs.start(NOW_MS if farm.alive else NOW_MS - MS_PER_HOUR)
    site, changes = restore(store, plan, NOW_MS, MS_PER_MINUTE)
    for node in plan.nodes.values():
        site.mark_silent(node.id, NOW_MS, stale_after_s(node), changes)
    standing = [name for name, state in site.states.items() if state.status == "unacknowledged"]
    for alarm_id, deed in zip(standing, farm.deeds, strict=False):
        if deed is not None and not (
            deed is AlarmEvent.ACKNOWLEDGE and plan.rules[alarm_id].priority == "low"
        ):
            until_ms = NOW_MS + MS_PER_HOUR if deed is AlarmEvent.SHELVE else None
            site.request(alarm_id, deed, NOW_MS, "Naledi", "", until_ms, changes)
    transitions = tuple(sorted(changes.transitions, key=lambda row: row.at_ms))
    store.commit(Batch(NOW_MS, alarm_states=tuple(site.states.values()), transitions=transitions))
    return AlarmViewBuilder(site)


@cache
def _renderer() -> Renderer:
    return Renderer(static_files())


def _request(store_path: Path, plan: Plan, language: str, path: str, **path_params: str) -> RequestContext:
    context = PageContext(store_path, lambda: plan, lambda: NOW_MS, "")
    sessions = Sessions(lambda _role: b"key", lambda: NOW_MS)
    scope: dict[str, object] = {
        "type": "http",
        "method": "GET",
        "path": path,
        "query_string": b"",
        "headers": [],
    }
    scope |= {"scheme": "http", "server": ("localhost", 80), "path_params": path_params}
    return RequestContext(
        AppState(context, sessions, Throttle(), _renderer(), PARTS),
        Request(scope),
        Session("number", Role.OWNER, "Ann", NOW_MS + MS_PER_HOUR),
        Localizer(DisplayPreferences(language), plan.zone, NOW_MS),
        plan,
        NOW_MS,
    )


def _page_places(page: str) -> dict[str, str]:
    """What the page says of each place: its card, or its line among those that are fine."""
    blocks = re.findall(r'<section class="card .*?</section>', page, re.DOTALL)
    fine = re.search(r'<ul class="fine">.*?</ul>', page, re.DOTALL)
    blocks += re.findall(r"<li>.*?</li>", fine[0], re.DOTALL) if fine else []
    named = ((re.search(r'href="/places/([\w-]+)"', block), block) for block in blocks)
    return {place[1]: _without_tags(block) for place, block in named if place}


def _text_places(text: str) -> dict[str, str]:
    """What a text says of each place: the lines with its title, and the indented ones below them."""
    blocks = re.split(r"\n(?=\S)", text)
    named = ((re.match(r"\S+ (?:\w+ )?(place-\w)\s?:", block), block) for block in blocks)
    places: dict[str, str] = {}
    for place, block in named:
        if place:
            places[place[1]] = f"{places.get(place[1], '')} {_flat(block)}"
    return places


def _states(page: str) -> dict[str, str]:
    """The state of each place on the page, by its card, its line among those that are fine, or as empty."""
    link = r'<a href="/places/([\w-]+)">'
    cards = {
        place: state
        for state, place in re.findall(rf'<section class="card (?:folded )?is-(\w+)" aria[^§]*?{link}', page)
    }
    fine = re.search(r'<ul class="fine">.*?</ul>', page, re.DOTALL)
    empty = re.search(r'<p class="empty">.*?</p>', page, re.DOTALL)
    cards |= dict.fromkeys(re.findall(link, fine[0]) if fine else [], "fine")
    return cards | dict.fromkeys(re.findall(link, empty[0]) if empty else [], "empty")


def _command_line(config: Path) -> str:
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        run(["now", "--config", str(config)])
    return said.getvalue()


def _read(farm: RandomFarm, folder: Path) -> tuple[SiteNow, Localizer, Surfaces]:
    config = folder / "farm.toml"
    config.write_text(_settings_text(farm), encoding="utf-8")
    config.chmod(0o600)
    plan = build_plan(load(config, {"OWNER_ADDRESS": "json://localhost"}))
    words = Localizer.of_site(plan.settings, NOW_MS)
    path = plan.settings.store.path
    with Store.open(path) as store:
        views = _stored(farm, store, plan)
        site = site_now(store, plan, NOW_MS)
        report = NightReader(store, plan, last_night(plan, NOW_MS), NOW_MS).report()
    alarms = [alarm for place in site.places for alarm in place.standing]
    messages = {}
    for alarm in alarms:
        view = views(alarm.rule.alarm_id)
        assert view is not None
        messages[alarm.rule.alarm_id] = alarm_messages.alarm(view, words)
    with contextlib.closing(_request(path, plan, farm.language, "/")) as request:
        page = bytes(show_now(request).body).decode()
    place_pages = {}
    for place in plan.places:
        with contextlib.closing(
            _request(path, plan, farm.language, f"/places/{place}", place=place)
        ) as request:
            place_pages[place] = _without_tags(bytes(show_place(request).body).decode())
    said, told = _command_line(config), report_text(report, words)
    surfaces = Surfaces(
        _without_tags(page),
        _page_places(page),
        _states(page),
        place_pages,
        _flat(said),
        _text_places(said),
        told,
        _text_places(told),
        messages,
    )
    return site, words, surfaces


@given(FARMS)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_every_surface_says_what_the_record_says(farm: RandomFarm) -> None:
    with TemporaryDirectory() as folder:
        site, words, surfaces = _read(farm, Path(folder))
    _agree_on_the_headline(site, words, surfaces)
    _record_is_as_measured(farm, site)
    assert surfaces.states == {place.id: place.state for place in site.places}
    assert surfaces.command_line_places.keys() == surfaces.states.keys()
    _fine_is_within_every_limit(site)
    for place in site.places:
        _agree_on_a_place(place, words, surfaces)
        for alarm in place.standing:
            _agree_on_an_alarm(alarm, alarm in place.gravest, words, surfaces)


def _fine_is_within_every_limit(site: SiteNow) -> None:
    """What is called fine has no value beyond a limit, also while an alarm of it is still to come."""
    for place in site.places:
        if place.state is PlaceState.FINE:
            for quantity in place.quantities:
                low, high = quantity.low_limit, quantity.high_limit
                if quantity.usable:
                    assert low is None or quantity.lowest >= low
                    assert high is None or quantity.highest <= high
        for alarm in (*place.alarms, *place.beyond):
            text = _flat("; ".join(notes(alarm, Localizer(DisplayPreferences("en"), ZONE, NOW_MS))))
            if alarm.stands and alarm.fresh:
                assert ("within the limit" in text) is not alarm.beyond


def _record_is_as_measured(farm: RandomFarm, site: SiteNow) -> None:
    """Values and trends are those of the lines along which the sensors ran, as the store rounds them."""
    by_id = {place.id: place for place in site.places}
    for at, place in enumerate(farm.places):
        record = {quantity.quantity: quantity for quantity in by_id[_name(at)].quantities}
        for sensor, quantity in zip(place.sensors, MATTERS[place.kind], strict=False):
            known = record.get(quantity)
            if known is None or not known.usable:
                continue
            value, (low, high) = sensor.level + sensor.offset, LEVELS[Quantity(quantity)]
            rounding = 0.001 + 2e-4 * (high - low)
            assert (known.lowest, known.highest) == pytest.approx((value, value), abs=rounding)
            if known.per_hour is not None:
                assert known.per_hour == pytest.approx(sensor.per_hour, abs=10 * rounding)


def _agree_on_the_headline(site: SiteNow, words: Localizer, surfaces: Surfaces) -> None:
    parts = [_flat(part) for part in verdict(site, words)]
    assert all(part in surfaces.page for part in parts)
    assert inside(_flat(words.clauses(parts))) in surfaces.command_line
    standing = sum(len(place.standing) for place in site.places)
    head = surfaces.report.splitlines()[0]
    assert (_flat(words.n("night.wrong_now", standing)) in head) is bool(standing)
    unguarded = _flat(words.n("now.unguarded", site.unguarded))
    assert site.wrong == bool({*parts} - {words.t("now.fine"), unguarded})
    assert (unguarded in parts) is bool(site.unguarded)


def _agree_on_a_place(place: PlaceNow, words: Localizer, surfaces: Surfaces) -> None:
    command_line = surfaces.command_line_places[place.id]
    state = inside(words.t(f"state.{place.state}"))
    named = _flat(words.t("now.place", title=place.title, state=state))
    assert (named in command_line) is (not place.state.alarmed)
    assert words.t(f"state.{place.state}") in surfaces.place_pages[place.id]
    for text in unguarded(place, words):
        assert _flat(text) in command_line
    # The page has a button where the command line names a command.
    for text in unguarded(place, words, undo=False):
        assert _flat(text) in surfaces.place_pages[place.id]
        assert place.state is PlaceState.EMPTY or _flat(text) in surfaces.page_places[place.id]
    if place.state is PlaceState.UNKNOWN:
        advice = unknown(place, words)
        assert _flat(advice.what) in command_line
        for page in (surfaces.page_places[place.id], surfaces.place_pages[place.id]):
            assert _flat(advice.what) in page and _flat(advice.do) in page
    if place.state.alarmed:
        assert _flat(words.text(place.gravest[0].rule.response)) in command_line
    if place.state in (PlaceState.UNKNOWN, PlaceState.EMPTY):
        return
    for quantity in place.without_alarm:
        value = shown(quantity, words)
        if quantity.is_index and quantity.usable:
            assert value.value.endswith(words.number(quantity.highest, 2)), "an index is no percentage"
        elif quantity.usable:
            assert value.value.endswith(words.value(quantity.quantity, quantity.highest))
            assert value.value.startswith(words.value(quantity.quantity, quantity.lowest).split()[0])
        assert _flat(f"{value.name} {value.value}") in surfaces.place_pages[place.id]
        assert _flat(f"{value.name} {value.value}") in surfaces.page_places[place.id]
        assert _flat(f"{inside(value.name)} {value.value}") in command_line


def _agree_on_an_alarm(alarm: ActiveAlarm, is_gravest: bool, words: Localizer, surfaces: Surfaces) -> None:
    rule, text = alarm.rule, surfaces.messages[alarm.rule.alarm_id]
    body, title, report = _flat(text.body), _flat(text.title), surfaces.report_places[rule.place]
    command_line = surfaces.command_line_places[rule.place]
    pages = (surfaces.page_places[rule.place], surfaces.place_pages[rule.place])
    what, trend = _flat(condition(rule, alarm.value, words)), _flat(alarm_outlook(alarm, words))
    response = _flat(words.text(rule.response))
    ways = {way: words.t(f"trend.{way}", rate="#", later="#") for way in ("rising", "falling")}
    said = {way: _flat(text).split("#")[0] for way, text in ways.items()}
    if alarm.per_hour is not None and any(text in trend for text in said.values()):
        assert (said["rising"] in trend, said["falling"] in trend) == (alarm.per_hour > 0, alarm.per_hour < 0)
    assert all(what in page and trend in page and response in page for page in pages)
    assert inside(what) in report and response in report
    assert (inside(what) in command_line) is is_gravest
    assert response in body
    if has_own_sentence(rule):
        return
    value = _flat(words.value(rule.quantity, alarm.value, rule.setpoint))
    assert value in title and value in what
    assert trend in body
    assert [text in body for text in said.values()] == [text in trend for text in said.values()]
    if is_gravest:
        assert inside(trend).rstrip(".") in command_line
