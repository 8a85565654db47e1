"""The alarms that result from species and settings, and whether what a person changed there can be meant.

What must fit together between the tables of the file: names, references, times, the two servers.
"""

from __future__ import annotations

import ipaddress
import re
import zoneinfo
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from monitor.alarms.rules import override_problems, rules_for
from monitor.errors import Problem
from monitor.records import QUANTITIES, AlarmRule, Computed, PlaceKind, Quantity
from monitor.settings.problems import Location, Source, suggestion
from monitor.settings.schema import RuleOverride, Settings
from monitor.settings.species import available_species, load_species


@dataclass(frozen=True, slots=True)
class Finding:
    """One contradiction and the key at which to mend it."""

    location: Location
    found: str
    allowed: str
    remedy: str
    names_place: bool = False


def findings(settings: Settings) -> Iterator[Finding]:
    """Every contradiction between the tables, in the order of the file."""
    for check in _CHECKS:
        yield from check(settings)


def is_loopback(host: str) -> bool:
    """True for an address that only this computer can reach."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def _time_zone(settings: Settings) -> Iterator[Finding]:
    name, known = settings.site.time_zone, zoneinfo.available_timezones()
    if name in known:
        return
    cities: dict[str, str] = {}
    for zone in sorted(known):
        cities.setdefault(zone.rpartition("/")[2].replace("_", " "), zone)
    city = suggestion(name.rpartition("/")[2].replace("_", " "), cities)
    near = suggestion(name, known) or (cities[city] if city else None)
    remedy = f'write "{near}", if that is yours' if near else "look up the region and city of your time zone"
    yield Finding(
        ("site", "time_zone"),
        f'"{name}", which is no known time zone',
        'region/city, such as "Africa/Gaborone"',
        remedy,
    )


def _species(settings: Settings) -> Iterator[Finding]:
    name, known = settings.site.species, available_species()
    if name not in known:
        near = suggestion(name, known)
        remedy = f'write "{near}"' if near else "choose one of those, or leave the key out"
        yield Finding(("site", "species"), f'"{name}"', ", ".join(known), remedy)


def _unique(settings: Settings) -> Iterator[Finding]:
    for table in ("places", "nodes", "recipients"):
        first: dict[str, int] = {}
        for index, entry in enumerate(getattr(settings, table)):
            earlier = first.setdefault(entry.id, index)
            if earlier != index:
                found = f'"{entry.id}", as in {table}[{earlier}] already'
                yield Finding((table, index, "id"), found, "an id of its own", "rename one, or remove it")


def _names_of_alarms(settings: Settings) -> Iterator[Finding]:
    """Alarms of the site and of nodes are filed beside those of places, so these names must differ."""
    taken = {place.id: f"places[{index}]" for index, place in enumerate(settings.places)}
    for index, node in enumerate(settings.nodes):
        if node.id in taken:
            found = f'"{node.id}", which is a place too ({taken[node.id]})'
            yield Finding(("nodes", index, "id"), found, "a name that no place has", "rename one of the two")
    names = taken | {node.id: f"nodes[{index}]" for index, node in enumerate(settings.nodes)}
    if settings.site.id in names:
        found = f'"{settings.site.id}", which is the id of {names[settings.site.id]} too'
        yield Finding(("site", "id"), found, "a name that no place and no node has", "rename one of the two")


def _reference(location: Location, name: str, known: list[str], what: str = "a place") -> Iterator[Finding]:
    if name in known:
        return
    near = suggestion(name, known)
    remedy = f'write "{near}", if that is what you mean' if near else "correct it, or add it to [[places]]"
    found = f'"{name}", which [[places]] does not list as {what}'
    yield Finding(location, found, ", ".join(known) or "none yet", remedy, True)


def _rooms(settings: Settings) -> Iterator[Finding]:
    rooms = [place.id for place in settings.places if place.kind is PlaceKind.ROOM]
    for index, place in enumerate(settings.places):
        location = ("places", index, "room")
        if place.room is None:
            continue
        if place.kind is PlaceKind.ROOM:
            remedy = "a room stands in no other: remove it"
            yield Finding(location, f'"{place.room}" in a room', "nothing", remedy, True)
        else:
            yield from _reference(location, place.room, rooms, "a room")


def _node_places(settings: Settings) -> Iterator[Finding]:
    known = [place.id for place in settings.places]
    for index, node in enumerate(settings.nodes):
        if node.place is not None:
            yield from _reference(("nodes", index, "place"), node.place, known)
        for probe, place in node.probes.items():
            yield from _reference(("nodes", index, "probes", probe), place, known)


def _measures(settings: Settings) -> Iterator[Finding]:
    known = [quantity.value for quantity in Quantity]
    for index, node in enumerate(settings.nodes):
        for name in node.measures:
            quantity = name.rpartition("/")[2]
            if quantity not in known:
                near = suggestion(quantity, known)
                remedy = f'write "{near}", if that is what you mean' if near else "write one of those"
                yield Finding(("nodes", index, "measures"), f'"{name}"', ", ".join(known), remedy)


def _plain_mappings(settings: Settings) -> Iterator[Finding]:
    known = [quantity.value for quantity in Quantity]
    for index, mapping in enumerate(settings.intake.plain):
        location: Location = ("intake", "plain", index)
        if mapping.quantity not in known:
            near = suggestion(mapping.quantity, known)
            remedy = f'write "{near}", if that is what you mean' if near else "write one of those"
            yield Finding((*location, "quantity"), f'"{mapping.quantity}"', ", ".join(known), remedy)
        if ("{node}" in mapping.topic) == (mapping.node is not None):
            yield Finding(
                (*location, "topic"),
                f'"{mapping.topic}"'
                + (" and a key node besides" if mapping.node else " without {node}, and no key node"),
                "a topic with {node} in it, or the key node",
                "give one of the two, so that every message has one sender",
            )
        if "#" in mapping.topic or "+" in mapping.topic:
            yield Finding(
                (*location, "topic"),
                f'"{mapping.topic}"',
                "no + and no #",
                "write {node} where the node's name is",
            )


def _one_rule_each(settings: Settings) -> Iterator[Finding]:
    first: dict[tuple[object, ...], int] = {}
    for index, rule in enumerate(settings.rules):
        earlier = first.setdefault(
            (rule.place, rule.place_kind, rule.quantity, rule.side, rule.priority), index
        )
        if earlier != index:
            found = f"about the same alarm as rules[{earlier}]"
            yield Finding(("rules", index), found, "one table for each alarm", "put both into one table")


def _times(settings: Settings) -> Iterator[Finding]:
    report = settings.report
    if report.time == report.night_start:
        found = f'"{report.time:%H:%M}", the same as night_start'
        yield Finding(
            ("report", "time"), found, "another time than night_start", "the night runs from one to the other"
        )
    for index, person in enumerate(settings.recipients):
        hours = person.quiet_hours
        if hours is not None and hours.start == hours.end:
            yield Finding(
                ("recipients", index, "quiet_hours"),
                f'from "{hours.start:%H:%M}" to the same time',
                "two different times",
                "leave quiet_hours out for none; for a person who only gets high alarms set priorities",
            )


def _broker(settings: Settings) -> Iterator[Finding]:
    broker = settings.broker
    if broker.embedded and not is_loopback(broker.host):
        yield Finding(
            ("broker", "host"),
            f'"{broker.host}" together with embedded = true',
            "one of the two",
            "set embedded = false to use the broker on that computer, or leave host out",
        )
    if broker.embedded and broker.tls:
        remedy = "leave tls out, or use a broker such as mosquitto with embedded = false"
        yield Finding(("broker", "tls"), "true together with embedded = true", "one of the two", remedy)
    if broker.password is not None and broker.username is None:
        yield Finding(("broker", "password"), "given without a username", "both, or neither", "add username")
    if (broker.client_certificate is None) != (broker.client_key is None):
        given = "client_key" if broker.client_certificate is None else "client_certificate"
        remedy = "add the one that is missing"
        yield Finding(("broker", given), "given alone", "client_certificate and client_key together", remedy)


def _store_path(settings: Settings) -> Iterator[Finding]:
    path = settings.store.path
    if path.is_dir():
        yield Finding(
            ("store", "path"), f'"{path}", which is a folder', "a file", "add a name such as rearing.sqlite"
        )


def _certificates(settings: Settings) -> Iterator[Finding]:
    broker = settings.broker
    for name in ("ca_file", "client_certificate", "client_key"):
        path = getattr(broker, name)
        if path is None:
            continue
        if not broker.tls:
            yield Finding(
                ("broker", name), "given without tls", "tls = true", "add tls = true, or remove the key"
            )
        elif not path.is_file():
            yield Finding(("broker", name), f'"{path}", which is not there', "a file", "correct the path")


def _web_addresses(settings: Settings) -> Iterator[Finding]:
    heartbeat, archive = settings.messages.heartbeat_url, settings.archive
    addresses: list[tuple[Location, str | None, bool]] = [
        (("page", "public_address"), settings.page.public_address, True),
        (("messages", "heartbeat_url"), heartbeat.get_secret_value() if heartbeat else None, False),
        (("archive", "url"), archive.url if archive else None, True),
    ]
    for location, address, shown in addresses:
        if address is not None and not address.lower().startswith(("http://", "https://")):
            found = f'"{address}"' if shown else "an address that is not shown"
            yield Finding(
                location, found, "a web address that begins with http:// or https://", "write it in full"
            )


def _page(settings: Settings) -> Iterator[Finding]:
    page = settings.page
    if page.enabled and page.password is None and not is_loopback(page.listen):
        yield Finding(
            ("page", "listen"),
            f'"{page.listen}" without a password',
            '"127.0.0.1", or any address together with a password',
            "add password_env or password_file to [page], since that network could acknowledge alarms",
        )


_CHECKS: tuple[Callable[[Settings], Iterator[Finding]], ...] = (
    _time_zone,
    _species,
    _store_path,
    _broker,
    _certificates,
    _plain_mappings,
    _unique,
    _names_of_alarms,
    _rooms,
    _node_places,
    _measures,
    _one_rule_each,
    _times,
    _web_addresses,
    _page,
)


@dataclass(frozen=True, slots=True)
class _Plausible:
    """Outside these bounds a setpoint is a slip of the unit, not a wish."""

    low: float
    high: float


_TEMPERATURE = _Plausible(-30.0, 70.0)
_BOUNDS: Mapping[str, _Plausible] = {
    Quantity.AIR_TEMPERATURE: _TEMPERATURE,
    Quantity.SUBSTRATE_TEMPERATURE: _TEMPERATURE,
    Quantity.SURFACE_TEMPERATURE: _TEMPERATURE,
    Computed.DEW_POINT: _TEMPERATURE,
    Quantity.AIR_HUMIDITY: _Plausible(1.0, 100.0),
    Quantity.SUBSTRATE_MOISTURE: _Plausible(0.0, 1.0),
    Quantity.LIGHT: _Plausible(0.0, 200_000.0),
    Quantity.BATTERY: _Plausible(0.0, 60.0),
    Quantity.CARBON_DIOXIDE: _Plausible(0.0, 100_000.0),
    Quantity.AMMONIA: _Plausible(0.0, 1_000.0),
    Computed.VAPOUR_PRESSURE_DEFICIT: _Plausible(0.0, 20_000.0),
    Computed.CONDENSATION_MARGIN: _Plausible(-20.0, 40.0),
}
_HIGHEST_FAHRENHEIT = 150.0


def alarm_rules(settings: Settings) -> tuple[AlarmRule, ...]:
    """Every alarm of every place: the defaults of the species with the changes of this farm."""
    return rules_for(settings.places, load_species(settings.site.species).alarms, settings.rules)


def rule_problems(settings: Settings, source: Source) -> Iterator[Problem]:
    """What cannot be meant in [[rules]]: unknown names, slips of the unit, contradicting limits."""
    for finding in _implausible(settings):
        yield source.problem(finding.location, finding.found, finding.allowed, finding.remedy)
    species = settings.site.species
    defaults = load_species(species).alarms if species in available_species() else ()
    for problem in override_problems(settings.places, defaults, settings.rules, source.file):
        yield _placed(problem, source)


def _implausible(settings: Settings) -> Iterator[Finding]:
    for index, rule in enumerate(settings.rules):
        bounds = _BOUNDS.get(rule.quantity)
        if bounds is None or rule.setpoint is None or bounds.low <= rule.setpoint <= bounds.high:
            continue
        unit = QUANTITIES[rule.quantity].shown_unit
        allowed = f"{bounds.low:g} to {bounds.high:g} {unit}".rstrip()
        yield Finding(("rules", index, "setpoint"), f"{rule.setpoint:g}", allowed, _unit_remedy(rule))


def _unit_remedy(rule: RuleOverride) -> str:
    setpoint = rule.setpoint or 0.0
    if _BOUNDS[rule.quantity] is _TEMPERATURE and _TEMPERATURE.high < setpoint <= _HIGHEST_FAHRENHEIT:
        return f"if that is in °F, write {(setpoint - 32) / 1.8:.1f}, which is the same in °C"
    if rule.quantity == Quantity.SUBSTRATE_MOISTURE and 1.0 < setpoint <= 100.0:
        return f"moisture is a share: for {setpoint:g} % write {setpoint / 100:g}"
    if rule.quantity == Quantity.AIR_HUMIDITY and 0.0 < setpoint < 1.0:
        return f"humidity is in percent: write {setpoint * 100:g}"
    return "correct the value; its unit is the one shown"


_RULE_KEY = re.compile(r"rules\[(\d+)\](?:\.(\w+))?")


def _placed(problem: Problem, source: Source) -> Problem:
    """Add the line of the file, and the nearest spelling where a list of names is allowed."""
    near = suggestion(problem.found.strip("'"), problem.allowed.split(", "))
    remedy = f'write "{near}", if that is what you mean' if near else problem.remedy
    key = _RULE_KEY.fullmatch(problem.key)
    location: Location = ("rules", int(key[1]), *([key[2]] if key[2] else [])) if key else ("rules",)
    return replace(problem, remedy=remedy, line=source.line_of(location) if key else None)
