"""What must fit together between the tables of the settings: names, references, times, addresses, limits.

Each check yields a `Finding` at the key where it is to be mended; `loading` reports them all at once.
"""

from __future__ import annotations

import ipaddress
import re
import zoneinfo
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from urllib.parse import urlsplit

from monitor.alarms.rules import PossibleStages, override_problems, rules_for
from monitor.errors import Phrase, Problem, SettingsError, UsageError, sentence
from monitor.records import QUANTITIES, TEMPERATURE_SETPOINTS_C, AlarmRule, PlaceKind, Quantity
from monitor.settings.plan import with_own_numbers
from monitor.settings.problems import Location, Source, spelling_remedy, suggestion
from monitor.settings.schema import OwnNumber, RuleOverride, Settings
from monitor.settings.species import (
    Species,
    StageNumbers,
    available_species,
    load_species,
    species_parameters,
)

_HIGHEST_FAHRENHEIT = 150.0
_RULE_KEY = re.compile(r"rules\[(\d+)\](?:\.(\w+))?")
_STAGE_NUMBERS = tuple(
    name for name in StageNumbers.model_fields if name not in ("cutoff", "temperature_of", "logan")
)

MOST_BOARD_PROBES = 8
"""A limit of the board's program."""
SHORTEST_PASSPHRASE = 12
"""Own choice: whoever finds a stick with copies may try as many as a computer can."""
_PROBE_CODE = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True, slots=True)
class Finding:
    """One contradiction and the key at which to mend it."""

    location: Location
    found: Phrase
    allowed: Phrase
    remedy: Phrase
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
    return wrong_time_zone(settings.site.time_zone, ("site", "time_zone"))


def wrong_time_zone(name: str, location: Location) -> Iterator[Finding]:
    """That there is no such time zone, with the one that may be meant."""
    if _is_time_zone(name):
        return
    known = zoneinfo.available_timezones()
    cities: dict[str, str] = {}
    for zone in sorted(known):
        cities.setdefault(zone.rpartition("/")[2].replace("_", " "), zone)
    city = suggestion(name.rpartition("/")[2].replace("_", " "), cities)
    yield Finding(
        location,
        sentence('"{name}", which is no known time zone', name=name),
        sentence('region/city, such as "{example}"', example="Africa/Gaborone"),
        spelling_remedy(
            suggestion(name, known) or (cities[city] if city else None),
            sentence("look up the region and city of your time zone"),
        ),
    )


def _is_time_zone(name: str) -> bool:
    """Whether there is such a zone; a list of all of them takes far longer than to read one."""
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _species(settings: Settings) -> Iterator[Finding]:
    name, known = settings.site.species, available_species()
    if name not in known:
        remedy = spelling_remedy(
            suggestion(name, known), sentence("choose one of those, or leave the key out")
        )
        yield Finding(("site", "species"), f'"{name}"', ", ".join(known), remedy)


def _unique(settings: Settings) -> Iterator[Finding]:
    for table in ("places", "nodes", "recipients", "copies"):
        entries = getattr(settings, table)
        for index, earlier in _repeated(entry.id for entry in entries):
            yield Finding(
                (table, index, "id"),
                _as_in(entries[index].id, f"{table}[{earlier}]"),
                sentence("an id of its own"),
                sentence("rename one, or remove it"),
            )


def _repeated(keys: Iterable[object]) -> Iterator[tuple[int, int]]:
    """The index of each key that stood before, and the index of its first."""
    first: dict[object, int] = {}
    for index, key in enumerate(keys):
        if first.setdefault(key, index) != index:
            yield index, first[key]


def _as_in(name: str, table: str) -> Phrase:
    return sentence('"{name}", as in {table} already', name=name, table=table)


def _names_of_alarms(settings: Settings) -> Iterator[Finding]:
    """Alarms of the site and of nodes are filed beside those of places, so these names must differ."""
    places = {place.id: f"places[{index}]" for index, place in enumerate(settings.places)}
    nodes = {node.id: f"nodes[{index}]" for index, node in enumerate(settings.nodes)}
    rename = sentence("rename one of the two")
    for index, node in enumerate(settings.nodes):
        if node.id in places:
            found = sentence('"{name}", which is a place too ({table})', name=node.id, table=places[node.id])
            yield Finding(("nodes", index, "id"), found, sentence("a name that no place has"), rename)
    site, names = settings.site.id, places | nodes
    if site in names:
        found = sentence('"{name}", which is the id of {table} too', name=site, table=names[site])
        yield Finding(("site", "id"), found, sentence("a name that no place and no node has"), rename)


def _reference(location: Location, name: str, known: list[str], is_room: bool = False) -> Iterator[Finding]:
    if name in known:
        return
    remedy = spelling_remedy(suggestion(name, known), sentence("correct it, or add it to [[places]]"))
    found = sentence('"{name}", which [[places]] does not list as a place', name=name)
    if is_room:
        found = sentence('"{name}", which [[places]] does not list as a room', name=name)
    yield Finding(location, found, ", ".join(known) or sentence("none yet"), remedy, True)


def _rooms(settings: Settings) -> Iterator[Finding]:
    rooms = [place.id for place in settings.places if place.kind is PlaceKind.ROOM]
    for index, place in enumerate(settings.places):
        location = ("places", index, "room")
        if place.room is None:
            continue
        if place.kind is PlaceKind.ROOM:
            found = sentence('"{name}" in a room', name=place.room)
            remedy = sentence("a room stands in no other: remove it")
            yield Finding(location, found, sentence("nothing"), remedy, True)
        else:
            yield from _reference(location, place.room, rooms, is_room=True)


def _node_places(settings: Settings) -> Iterator[Finding]:
    known = [place.id for place in settings.places]
    for index, node in enumerate(settings.nodes):
        if node.place is not None:
            yield from _reference(("nodes", index, "place"), node.place, known)
        for probe, place in node.probes.items():
            yield from _reference(("nodes", index, "probes", probe), place, known)


def _quantity(location: Location, written: str, quantity: str) -> Iterator[Finding]:
    known = [known_quantity.value for known_quantity in Quantity]
    if quantity not in known:
        remedy = spelling_remedy(suggestion(quantity, known), sentence("write one of those"))
        yield Finding(location, f'"{written}"', ", ".join(known), remedy)


def _measures(settings: Settings) -> Iterator[Finding]:
    for index, node in enumerate(settings.nodes):
        for name in node.measures:
            yield from _quantity(("nodes", index, "measures"), name, name.rpartition("/")[2])


def _probe_names(settings: Settings) -> Iterator[Finding]:
    for index, node in enumerate(settings.nodes):
        if len(node.probe_codes) > MOST_BOARD_PROBES:
            yield Finding(
                ("nodes", index, "probe_codes"),
                sentence("{count} probes", count=str(len(node.probe_codes))),
                sentence("at most {most} probes", most=str(MOST_BOARD_PROBES)),
                sentence("hang the others on another board"),
            )
        for code, name in node.probe_codes.items():
            if not _PROBE_CODE.fullmatch(code):
                yield Finding(
                    ("nodes", index, "probe_codes", code),
                    sentence('the serial number "{code}"', code=code),
                    sentence("16 digits and small letters a to f"),
                    sentence("copy it from what the board reports: rearing-monitor nodes"),
                )
            if list(node.probe_codes.values()).count(name) > 1:
                yield Finding(
                    ("nodes", index, "probe_codes", code),
                    sentence('"{name}", the name of another probe too', name=name),
                    sentence("a name for each probe"),
                    sentence("give each probe its own name"),
                )


def _plain_mappings(settings: Settings) -> Iterator[Finding]:
    for index, mapping in enumerate(settings.intake.plain):
        location: Location = ("intake", "plain", index)
        yield from _quantity((*location, "quantity"), mapping.quantity, mapping.quantity)
        values = {"topic": mapping.topic, "level": "{node}"}
        if ("{node}" in mapping.topic) == (mapping.node is not None):
            found = sentence('"{topic}" without {level}, and no key node', **values)
            if mapping.node:
                found = sentence('"{topic}" and a key node besides', topic=mapping.topic)
            yield Finding(
                (*location, "topic"),
                found,
                sentence("a topic with {level} in it, or the key node", level="{node}"),
                sentence("give one of the two, so that every message has one sender"),
            )
        if "#" in mapping.topic or "+" in mapping.topic:
            yield Finding(
                (*location, "topic"),
                f'"{mapping.topic}"',
                sentence("no + and no #"),
                sentence("write {level} where the node's name is", level="{node}"),
            )


def _one_rule_each(settings: Settings) -> Iterator[Finding]:
    about = attrgetter("place", "place_kind", "quantity", "side", "priority")
    for index, earlier in _repeated(map(about, settings.rules)):
        yield Finding(
            ("rules", index),
            sentence("about the same alarm as {table}", table=f"rules[{earlier}]"),
            sentence("one table for each alarm"),
            sentence("put both into one table"),
        )


def _times(settings: Settings) -> Iterator[Finding]:
    report = settings.report
    if report.time == report.night_start:
        yield Finding(
            ("report", "time"),
            sentence('"{time}", the same as night_start', time=f"{report.time:%H:%M}"),
            sentence("another time than night_start"),
            sentence("the night runs from one to the other"),
        )
    for index, person in enumerate(settings.recipients):
        hours = person.quiet_hours
        if hours is not None and hours.start == hours.end:
            yield Finding(
                ("recipients", index, "quiet_hours"),
                sentence('from "{time}" to the same time', time=f"{hours.start:%H:%M}"),
                sentence("two different times"),
                sentence(
                    "leave quiet_hours out for none; for a person who only gets high alarms set priorities"
                ),
            )


def _broker(settings: Settings) -> Iterator[Finding]:
    broker = settings.broker
    one_of_two = sentence("one of the two")
    if broker.embedded and not is_loopback(broker.host):
        yield Finding(
            ("broker", "host"),
            sentence('"{host}" together with embedded = true', host=broker.host),
            one_of_two,
            sentence("set embedded = false to use the broker on that computer, or leave host out"),
        )
    if broker.embedded and broker.tls:
        yield Finding(
            ("broker", "tls"),
            sentence("true together with embedded = true"),
            one_of_two,
            sentence("leave tls out, or use a broker such as mosquitto with embedded = false"),
        )
    if broker.password is not None and broker.username is None:
        yield Finding(
            ("broker", "password"),
            sentence("given without a username"),
            sentence("both, or neither"),
            sentence("add username"),
        )
    if (broker.client_certificate is None) != (broker.client_key is None):
        yield Finding(
            ("broker", "client_key" if broker.client_certificate is None else "client_certificate"),
            sentence("given alone"),
            sentence("client_certificate and client_key together"),
            sentence("add the one that is missing"),
        )


def _files(settings: Settings) -> Iterator[Finding]:
    path, broker = settings.store.path, settings.broker
    a_file = sentence("a file")
    if path.is_dir():
        found = sentence('"{path}", which is a folder', path=str(path))
        yield Finding(("store", "path"), found, a_file, sentence("add a name such as rearing.sqlite"))
    for name in ("ca_file", "client_certificate", "client_key"):
        certificate = getattr(broker, name)
        if certificate is None:
            continue
        if not broker.tls:
            remedy = sentence("add tls = true, or remove the key")
            yield Finding(("broker", name), sentence("given without tls"), "tls = true", remedy)
        elif not certificate.is_file():
            found = sentence('"{path}", which is not there', path=str(certificate))
            yield Finding(("broker", name), found, a_file, sentence("correct the path"))


def _web_addresses(settings: Settings) -> Iterator[Finding]:
    heartbeat, archive = settings.messages.heartbeat_url, settings.archive
    addresses: list[tuple[Location, str | None, bool]] = [
        (("page", "public_address"), settings.page.public_address, True),
        (("messages", "heartbeat_url"), heartbeat.get_secret_value() if heartbeat else None, False),
        (("archive", "url"), archive.url if archive else None, True),
        (("archive", "read_url"), archive.read_url if archive else None, True),
    ]
    for location, address, shown in addresses:
        if address is not None and not address.lower().startswith(("http://", "https://")):
            yield Finding(
                location,
                f'"{address}"' if shown else sentence("an address that is not shown"),
                sentence("a web address that begins with http:// or https://"),
                sentence("write it in full"),
            )


def _page(settings: Settings) -> Iterator[Finding]:
    page = settings.page
    if page.enabled and page.password is None and not is_loopback(page.listen):
        yield Finding(
            ("page", "listen"),
            sentence('"{address}" without a password', address=page.listen),
            sentence('"127.0.0.1", or any address together with a password'),
            sentence(
                "add password_env or password_file to [page], since that network could acknowledge alarms"
            ),
        )
    if page.https_port == page.port:
        yield Finding(
            ("page", "https_port"),
            str(page.https_port),
            sentence("another port than the plain one of the page"),
            sentence("change one of the two"),
        )


def _own_numbers(settings: Settings) -> Iterator[Finding]:
    """The farm's own numbers: unknown names, stages, feeds; values out of range or against one another."""
    own = settings.own_numbers
    if not own:
        return
    try:
        species = load_species(settings.site.species)
    except SettingsError:
        return  # Reported where the species is named.
    misplaced = [finding for index, entry in enumerate(own) for finding in _misplaced(species, entry, index)]
    yield from misplaced or (*_twice(own), *_contradictions(species, own))


def _misplaced(species: Species, entry: OwnNumber, index: int) -> Iterator[Finding]:
    choose = sentence("write one of those")
    table: Location = ("own_numbers", index)
    if entry.feed is not None and (
        entry.stage is None or entry.stage not in species.diets.get(entry.feed, {})
    ):
        feeds = ", ".join(f"{feed} ({', '.join(stages)})" for feed, stages in species.diets.items())
        otherwise = sentence("write one of these, or leave it out")
        yield Finding((*table, "feed"), f'"{entry.feed}"', feeds or sentence("none"), otherwise)
        return
    if entry.stage is not None and entry.stage not in species.stages:
        yield Finding((*table, "stage"), f'"{entry.stage}"', ", ".join(species.stages), choose)
        return
    known: Iterable[str] = _STAGE_NUMBERS if entry.stage else species.numbers
    if entry.number not in known:
        remedy: Phrase = spelling_remedy(suggestion(entry.number, known), choose)
        if entry.stage is None and entry.number in _STAGE_NUMBERS:
            remedy = sentence("say the stage that it belongs to")
        yield Finding((*table, "number"), f'"{entry.number}"', ", ".join(known), remedy)
        return
    correct = sentence("correct the number")
    if entry.value < 0.0 and not entry.number.endswith("_c"):
        yield Finding((*table, "value"), f"{entry.value:g}", sentence("0 or more"), correct)
    elif entry.value == 0.0 and entry.number == "thermal_constant_dd":
        yield Finding((*table, "value"), "0", sentence("above 0"), correct)


def _twice(own: Sequence[OwnNumber]) -> Iterator[Finding]:
    for index, earlier in _repeated((entry.stage, entry.feed, entry.number) for entry in own):
        yield Finding(
            ("own_numbers", index, "number"),
            _as_in(own[index].number, f"own_numbers[{earlier}]"),
            sentence("each number once"),
            sentence("remove one of the two"),
        )


def _contradictions(species: Species, own: Sequence[OwnNumber]) -> Iterator[Finding]:
    """Numbers that contradict one another, such as an upper threshold below the lower one."""
    changed = with_own_numbers(species, own)
    for feed in (None, *changed.diets):
        try:
            species_parameters(changed, feed)
        except UsageError as error:
            allowed, remedy = sentence("numbers that fit together"), sentence("correct one of them")
            yield Finding(("own_numbers", 0, "value"), error.said, allowed, remedy)
            return


def _copies(settings: Settings) -> Iterator[Finding]:
    """Places for copies: one way to each, no password in an address, a passphrase that is not soon
    guessed."""
    for index, place in enumerate(settings.copies):
        at: Location = ("copies", index)
        if (place.folder is None) == (place.url is None):
            found = sentence("neither folder nor url" if place.url is None else "both folder and url")
            allowed, remedy = sentence("one of the two"), sentence("write one of them")
            yield Finding((*at, "folder"), found, allowed, remedy)
        if place.url is not None:
            yield from _copy_address((*at, "url"), place.url)
    passphrase = settings.store.backup_passphrase
    if passphrase is not None and len(passphrase.get_secret_value()) < SHORTEST_PASSPHRASE:
        yield Finding(
            ("store", "backup_passphrase"),
            sentence("too short"),
            sentence("at least {count} letters", count=SHORTEST_PASSPHRASE),
            sentence("take four words that have nothing to do with one another"),
        )


def _copy_address(at: Location, address: str) -> Iterator[Finding]:
    try:
        url = urlsplit(address)
        scheme, password = url.scheme, url.password
    except ValueError:
        scheme, password = "", None
    if not scheme or "://" not in address:
        allowed = sentence("an address such as {example}", example="sftp://copies.example/rearing")
        yield Finding(at, f'"{address}"', allowed, sentence("correct it"))
    elif password is not None:
        yield Finding(
            at,
            sentence("an address with a password in it"),
            sentence("an address without one"),
            sentence("take it out, and give it with password_file or password_env"),
        )


_CHECKS: tuple[Callable[[Settings], Iterator[Finding]], ...] = (
    _time_zone,
    _species,
    _files,
    _broker,
    _plain_mappings,
    _unique,
    _names_of_alarms,
    _rooms,
    _node_places,
    _measures,
    _probe_names,
    _one_rule_each,
    _times,
    _web_addresses,
    _page,
    _copies,
    _own_numbers,
)


def alarm_rules(settings: Settings, stages: PossibleStages | None = None) -> tuple[AlarmRule, ...]:
    """Every alarm of every place: the defaults of the species with the changes of this farm."""
    return rules_for(settings.places, load_species(settings.site.species).alarms, settings.rules, stages)


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
        facts = QUANTITIES.get(rule.quantity)
        if facts is None or facts.setpoints is None or rule.setpoint is None:
            continue
        low, high = facts.setpoints
        if low <= rule.setpoint <= high:
            continue
        allowed = sentence("{low} to {high}", low=f"{low:g}", high=f"{high:g}")
        if facts.shown_unit:
            allowed = sentence("{low} to {high} {unit}", **allowed.values, unit=facts.shown_unit)
        yield Finding(("rules", index, "setpoint"), f"{rule.setpoint:g}", allowed, _unit_remedy(rule))


def _unit_remedy(rule: RuleOverride) -> Phrase:
    setpoint = rule.setpoint or 0.0
    is_temperature = QUANTITIES[rule.quantity].setpoints == TEMPERATURE_SETPOINTS_C
    if is_temperature and TEMPERATURE_SETPOINTS_C[1] < setpoint <= _HIGHEST_FAHRENHEIT:
        celsius = f"{(setpoint - 32) / 1.8:.1f}"
        return sentence("if that is in °F, write {value}, which is the same in °C", value=celsius)
    if rule.quantity == Quantity.SUBSTRATE_MOISTURE and 1.0 < setpoint <= 100.0:
        values = {"percent": f"{setpoint:g}", "share": f"{setpoint / 100:g}"}
        return sentence("moisture is a share: for {percent} % write {share}", **values)
    if rule.quantity == Quantity.AIR_HUMIDITY and 0.0 < setpoint < 1.0:
        return sentence("humidity is in percent: write {value}", value=f"{setpoint * 100:g}")
    return sentence("correct the value; its unit is the one shown")


def _placed(problem: Problem, source: Source) -> Problem:
    """Add the line of the file, and the nearest spelling where a list of names is allowed."""
    near = None
    if isinstance(problem.found, str) and isinstance(problem.allowed, str):
        near = suggestion(problem.found.strip("'\""), problem.allowed.split(", "))
    key = _RULE_KEY.fullmatch(str(problem.key))
    location: Location = ("rules", int(key[1]), *([key[2]] if key[2] else [])) if key else ("rules",)
    line = source.line_of(location) if key else None
    return replace(problem, remedy=spelling_remedy(near, problem.remedy), line=line)
