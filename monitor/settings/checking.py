"""What is missing or doubtful in settings that are correct, and what each place is guarded for.

Nothing here keeps the program from starting; `loading` refuses what does."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from ipaddress import ip_network
from itertools import pairwise

from monitor.alarms.rules import PossibleStages, suppressed_by_design
from monitor.climate.trend import LONGEST_INTERVAL_MIN
from monitor.errors import Sentence, sentence
from monitor.logbook.place_entries import Why
from monitor.records import AlarmRule, Computed, PlaceKind, Priority, Quantity, SensorKey
from monitor.settings.consistency import alarm_rules, is_loopback
from monitor.settings.loading import FarmFile
from monitor.settings.plan import SILENT_WORDS, stale_after_s
from monitor.settings.schema import BOARD_INTERVALS_S, Node, Place, Recipient, Settings

# Without these a place of the kind is not guarded in any sense that matters.
NEEDED: Mapping[PlaceKind, tuple[Quantity, ...]] = {
    PlaceKind.ROOM: (Quantity.AIR_TEMPERATURE,),
    PlaceKind.LOVE_CAGE: (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY),
    PlaceKind.HATCHING_TRAY: (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY),
    PlaceKind.GROW_OUT_BIN: (Quantity.SUBSTRATE_TEMPERATURE,),
    PlaceKind.PUPATION_BOX: (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY),
}
_AIR = frozenset({Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY})
_INPUTS: Mapping[str, frozenset[Quantity]] = {
    Computed.VAPOUR_PRESSURE_DEFICIT: _AIR,
    Computed.DEW_POINT: _AIR,
    Computed.CONDENSATION_MARGIN: _AIR | {Quantity.SURFACE_TEMPERATURE},
    Computed.MINUTES_TO_OVERHEATING: frozenset({Quantity.SUBSTRATE_TEMPERATURE}),
    Computed.HOURS_TO_DRY: _AIR,
}
_SHORTEST_STALE_INTERVALS = 1.5
SECONDS_PER_MINUTE = 60.0
SECONDS_PER_HOUR = 3600.0
RAREST_MESSAGE_S = SECONDS_PER_HOUR
"""Heat that is told later than an hour after it was measured is told too late (choice)."""


@dataclass(frozen=True, slots=True)
class PlaceGuard:
    """One place: the rules that guard it, those whose sensors are missing, why it may be quiet on purpose.

    `told` are the priorities that reach somebody; `heat_interval_s` is how often its substrate is measured
    where it has an early heat alarm; `too_slow` are rules whose boards send too rarely for them, with the
    interval [s].
    """

    place: Place
    guarded: tuple[AlarmRule, ...]
    unguarded: tuple[tuple[AlarmRule, tuple[Quantity, ...]], ...]
    held_back: tuple[str, ...]
    sensors_known: bool
    told: frozenset[Priority] = frozenset(Priority)
    heat_interval_s: float | None = None
    too_slow: tuple[tuple[AlarmRule, float], ...] = ()


def measured(settings: Settings, heard: Collection[SensorKey] = ()) -> dict[str, set[str]]:
    """Quantities that are measured in each place: as the nodes declare, and as has been heard from them."""
    by_place: dict[str, set[str]] = defaultdict(set)
    for node in settings.nodes:
        for probe, quantity in _sensors(node, heard):
            place = node.probes.get(probe, node.place)
            if place is not None:
                by_place[place].add(quantity)
    return dict(by_place)


def _sensors(node: Node, heard: Collection[SensorKey]) -> Iterator[tuple[str, str]]:
    for name in node.measures:
        probe, _, quantity = name.rpartition("/")
        yield probe, quantity
    yield from ((key.probe, key.quantity) for key in heard if key.node == node.id)


def silent_places(settings: Settings, heard: Collection[SensorKey] = ()) -> set[str]:
    """Places with a node that does not say what it measures, and from which nothing has been heard."""
    unknown = [node for node in settings.nodes if not any(_sensors(node, heard))]
    return {place for node in unknown for place in (node.place, *node.probes.values()) if place is not None}


def missing_inputs(
    rule: AlarmRule, place: Place, present: Collection[str], in_room: Collection[str] = ()
) -> list[Quantity]:
    """The quantities that this rule needs and that no sensor in the place measures.

    A bin dries in the air of its room, so the sensors of the room will do for that.
    """
    inputs = set(_INPUTS.get(rule.quantity, ()))
    if rule.quantity in set(Quantity):
        inputs = {Quantity(rule.quantity)}
    if place.surface_colder_by_k is not None:
        inputs.discard(Quantity.SURFACE_TEMPERATURE)
    near = in_room if rule.quantity == Computed.HOURS_TO_DRY else ()
    return sorted(inputs - set(present) - set(near))


def told(people: Sequence[Recipient]) -> frozenset[Priority]:
    """The priorities of which somebody is told; a high alarm that nobody wants goes to everybody."""
    wanted = {priority for person in people for priority in person.priorities}
    return frozenset(wanted | {Priority.HIGH} if people else wanted)


def heat_interval_s(settings: Settings, place: str, heard: Collection[SensorKey] = ()) -> float | None:
    """How often the quickest board tells the substrate temperature of a place [s]; None where none does."""
    intervals = (
        node.message_s
        for node in settings.nodes
        for probe, quantity in _sensors(node, heard)
        if quantity == Quantity.SUBSTRATE_TEMPERATURE and node.probes.get(probe, node.place) == place
    )
    return min(intervals, default=None)


def _too_slow(
    settings: Settings, rules: Iterable[AlarmRule], heard: Collection[SensorKey]
) -> Iterator[tuple[AlarmRule, float]]:
    """The early heat alarms whose boards send more rarely than their trend can follow."""
    for rule in rules:
        if rule.quantity == Computed.MINUTES_TO_OVERHEATING:
            interval_s = heat_interval_s(settings, rule.place, heard)
            if interval_s is not None and interval_s > LONGEST_INTERVAL_MIN * SECONDS_PER_MINUTE:
                yield rule, interval_s


def guards(
    settings: Settings,
    heard: Collection[SensorKey] = (),
    calibrated: Collection[str] = (),
    stages: PossibleStages | None = None,
) -> tuple[PlaceGuard, ...]:
    """For every place, in the order of the file, what it is guarded for.

    `calibrated` names the moisture probes with a calibration; what another one says is an index, no moisture.
    `stages` are those in which the animals of a place may be by the logbook.
    """
    rules = defaultdict(list)
    for rule in alarm_rules(settings, stages):
        rules[rule.place].append(rule)
    present, unknown = measured(settings, heard), silent_places(settings, heard)
    found = (
        _guard(
            place,
            rules[place.id],
            (present.get(place.id, set()), present.get(place.room or "", set())),
            place.id not in unknown,
            _has_calibrated_probe(settings, place.id, calibrated),
        )
        for place in settings.places
    )
    return tuple(_as_promised(guard, settings, heard) for guard in found)


def _as_promised(guard: PlaceGuard, settings: Settings, heard: Collection[SensorKey]) -> PlaceGuard:
    """A guard without what nobody is told of, and without what its boards are too slow for."""
    slow = tuple(_too_slow(settings, guard.guarded, heard))
    rules = {rule for rule, _ in slow}
    kept = tuple(rule for rule in guard.guarded if rule not in rules)
    early = any(rule.quantity == Computed.MINUTES_TO_OVERHEATING for rule in kept)
    interval_s = heat_interval_s(settings, guard.place.id, heard) if early else None
    people = told(settings.recipients)
    return replace(guard, guarded=kept, told=people, heat_interval_s=interval_s, too_slow=slow)


def _has_calibrated_probe(settings: Settings, place: str, calibrated: Collection[str]) -> bool:
    return any(
        node.probes.get(probe, node.place) == place
        for name in calibrated
        for node in settings.nodes
        if name.endswith(f"/{Quantity.SUBSTRATE_MOISTURE}") and name.split("/")[0] == node.id
        for probe in ["/".join(name.split("/")[1:-1])]
    )


def _guard(
    place: Place,
    rules: list[AlarmRule],
    here_and_room: tuple[set[str], set[str]],
    sensors_known: bool,
    calibrated: bool,
) -> PlaceGuard:
    held_back = suppressed_by_design(
        [place], rules, {place.id: SILENT_WORDS[Why.FILE]} if place.empty else {}
    )
    missing = {
        rule.alarm_id: tuple(missing_inputs(rule, place, *here_and_room)) if sensors_known else ()
        for rule in rules
    }
    indexes = {
        rule.alarm_id for rule in rules if rule.quantity == Quantity.SUBSTRATE_MOISTURE and not calibrated
    }
    lacking = {name for name, inputs in missing.items() if inputs} | indexes
    return PlaceGuard(
        place,
        guarded=tuple(rule for rule in rules if rule.alarm_id not in {*lacking, *held_back}),
        unguarded=tuple((rule, missing[rule.alarm_id]) for rule in rules if rule.alarm_id in lacking),
        held_back=tuple(dict.fromkeys(held_back.values())),
        sensors_known=sensors_known,
    )


@dataclass(frozen=True, slots=True)
class Review:
    """Warnings (something should be done), notes (worth knowing), and what each place is guarded for."""

    warnings: tuple[Sentence, ...]
    notes: tuple[Sentence, ...]
    guards: tuple[PlaceGuard, ...]


def review(
    file: FarmFile,
    heard: Collection[SensorKey] = (),
    calibrated: Collection[str] = (),
    stages: PossibleStages | None = None,
) -> Review:
    """Look over a settings file without problems; `heard` are sensors from which readings have come.

    `calibrated` names the moisture probes with a calibration, `stages` what may live where by the logbook.
    """
    settings = file.settings
    warnings = [*file.warnings, *_sensor_warnings(settings, heard), *_unknown_boards(settings, heard)]
    warnings += _slow_boards(settings, heard)
    warnings += [warning for check in _WARNINGS for warning in check(settings)]
    notes = tuple(note for check in _NOTES for note in check(settings))
    return Review(tuple(warnings), notes, guards(settings, heard, calibrated, stages))


def _sensor_warnings(settings: Settings, heard: Collection[SensorKey]) -> Iterator[Sentence]:
    placed = {place for node in settings.nodes for place in (node.place, *node.probes.values())}
    present, unknown = measured(settings, heard), silent_places(settings, heard)
    for place in settings.places:
        if place.id not in placed:
            yield sentence(
                "{place} has no sensor: nothing guards it. Name it in a [[nodes]] table as place.",
                place=place.id,
            )
            continue
        missing = [quantity for quantity in NEEDED[place.kind] if quantity not in present.get(place.id, ())]
        if missing and place.id not in unknown:
            yield sentence(
                "{place}: a {kind} needs {quantities}, which no sensor in it measures.",
                place=place.id,
                kind=place.kind,
                quantities=_both(missing),
            )
    for node in settings.nodes:
        if node.place in unknown and not node.measures:
            yield sentence(
                "{node} does not say what it measures, and nothing has been heard from it: "
                "whether {place} has what it needs is not known. Add the key measures.",
                node=node.id,
                place=node.place,
            )


def _slow_boards(settings: Settings, heard: Collection[SensorKey]) -> Iterator[Sentence]:
    for rule, interval_s in _too_slow(settings, alarm_rules(settings), heard):
        yield sentence(
            "{place}: its board sends every {interval} min, too slow for the early heat alarm of {place}; "
            "its limits of temperature still guard it. Let the board send every {limit} min or more often, "
            "and set interval_s so.",
            place=rule.place,
            interval=f"{interval_s / SECONDS_PER_MINUTE:g}",
            limit=f"{LONGEST_INTERVAL_MIN:g}",
        )


def _both(quantities: Sequence[Quantity]) -> object:
    """The one or two quantities that a place needs."""
    if len(quantities) == 1:
        return quantities[0]
    return sentence("{first} and {second}", first=quantities[0], second=quantities[1])


def _unknown_boards(settings: Settings, heard: Collection[SensorKey]) -> Iterator[Sentence]:
    known = {node.id for node in settings.nodes}
    for node in sorted({key.node for key in heard} - known):
        yield sentence(
            "{node} sends readings and is not in the settings: they are stored but guard nothing. "
            'Add a [[nodes]] table with id = "{node}" and its place.',
            node=node,
        )


def _unplaced(settings: Settings) -> Iterator[Sentence]:
    if settings.site.eggs_g_a_week and PlaceKind.LOVE_CAGE not in {place.kind for place in settings.places}:
        yield sentence('[site] eggs_g_a_week wants eggs, but no place is a love cage (kind = "love_cage").')
    for node in settings.nodes:
        if node.place is None and not node.probes:
            yield sentence(
                "{node} is in no place: its readings are stored but guard nothing. Add the key place.",
                node=node.id,
            )
        probes = () if node.place is not None else _declared_probes(node.measures)
        for probe in (each for each in probes if each not in node.probes):
            yield sentence(
                "{node}: its probe {probe} is in no place. Add it to probes, or give the node a place.",
                node=node.id,
                probe=probe,
            )
        if node.out_of_service and node.place is not None:
            yield sentence(
                "{node} is out of service: {place} is guarded only by what else stands in it.",
                node=node.id,
                place=node.place,
            )


def _declared_probes(measures: tuple[str, ...]) -> list[str]:
    return sorted({name.rpartition("/")[0] for name in measures if "/" in name})


def _impatient(settings: Settings) -> Iterator[Sentence]:
    for node in settings.nodes:
        limit = node.stale_after_s
        if limit is not None and limit < _SHORTEST_STALE_INTERVALS * node.message_s:
            yield sentence(
                "{node} sends every {interval} s and counts as silent after {limit} s: "
                "one late message raises an alarm. Set stale_after_s to three intervals or more.",
                node=node.id,
                interval=f"{node.message_s:g}",
                limit=f"{limit:g}",
            )


def _rarely_heard(settings: Settings) -> Iterator[Sentence]:
    for node in settings.nodes:
        if node.message_s > RAREST_MESSAGE_S and (node.place or node.probes) and not node.out_of_service:
            yield sentence(
                "{node} sends every {interval} h: heat that it measures is told up to that much later, and "
                "its own silence after {limit} h. Let it send every hour or more often "
                "(interval_s, send_every).",
                node=node.id,
                interval=f"{node.message_s / SECONDS_PER_HOUR:.3g}",
                limit=f"{stale_after_s(node) / SECONDS_PER_HOUR:.3g}",
            )


def _not_for_boards(settings: Settings) -> Iterator[Sentence]:
    for node in settings.nodes:
        ours = {"send_every", "probe_codes", "buzzer"} & node.model_fields_set
        if ours and node.board_interval_s is None:
            yield sentence(
                "{node}: its interval_s ({interval}) is not sent to it, since the board's program takes "
                "whole seconds from {least} to {most}.",
                node=node.id,
                interval=f"{node.interval_s:g}",
                least=str(BOARD_INTERVALS_S[0]),
                most=str(BOARD_INTERVALS_S[1]),
            )


def _people(settings: Settings) -> Iterator[Sentence]:
    people = settings.recipients
    if not people:
        yield sentence("nobody is told anything: there is no [[recipients]] table. Only the sounder warns.")
        return
    if not any(Priority.HIGH in person.priorities for person in people):
        yield sentence("nobody gets high alarms: put high into the priorities of at least one person.")
    if not any(Priority.MEDIUM in person.priorities for person in people):
        yield sentence("nobody gets medium alarms: put medium into the priorities of at least one person.")
    if settings.report.enabled and not any(person.night_report for person in people):
        yield sentence("the night report goes to nobody: set night_report = true for one person.")
    yield from _channels(people)


def _channels(people: tuple[Recipient, ...]) -> Iterator[Sentence]:
    addresses = [person.address.get_secret_value() for person in people if not person.by_page_alone]
    if len(set(addresses)) < len(addresses):
        yield sentence(
            "two recipients have the same address: the second is no help when the first is not seen."
        )
    kinds = {person.address.get_secret_value().partition(":")[0].lower().rstrip("s") for person in people}
    if len(people) > 1 and len(kinds) == 1:
        yield sentence(
            "all recipients are reached through the same kind of service: when that fails, nobody is told. "
            "Give one of them another kind."
        )


SHORTEST_PASSWORD = 8
_OFTEN_TRIED = frozenset(
    {
        "password",
        "passwort",
        "nenolasiri",
        "karibu",
        "jambo",
        "soleil",
        "bonjour",
        "doudou",
        "passw0rd",
        "password1",
        "motdepasse",
        "12345678",
        "123456789",
        "1234567890",
        "87654321",
        "11111111",
        "00000000",
        "qwertyui",
        "qwertyuiop",
        "qwerty123",
        "azertyui",
        "azertyuiop",
        "letmein1",
        "welcome1",
        "iloveyou",
        "sunshine",
        "princess",
        "football",
        "baseball",
        "changeme",
        "changeit",
        "admin123",
        "administrator",
        "raspberry",
        "mosquitto",
        "rearing",
        "monitor",
        "farm",
        "blacksoldierfly",
        "insects",
        "larvae",
    }
)  # fmt: skip
"""Passwords that are tried first, from memory of lists that are often printed, and words of this program; own
choice. English, French, German and Kiswahili, as the farms that use it."""
_SIGNS = str.maketrans("0134578@$!", "oleastbasi")
_LONGEST_REPEATED = 5


def is_soon_guessed(password: str, names: Iterable[str] = ()) -> bool:
    """Whether it is tried first: a usual word or a name of the farm with signs, a run, a repetition."""
    known = _OFTEN_TRIED | {name.casefold() for name in names}
    plain = password.casefold()
    bare = plain.strip("0123456789!.?-_ ")
    written = {plain, bare, plain.rstrip("!.?")}
    spelt = written | {word.translate(_SIGNS) for word in written}
    steps = {ord(after) - ord(before) for before, after in pairwise(plain)}
    repeated = 0 < (plain + plain).find(plain, 1) <= min(_LONGEST_REPEATED, len(plain) - 1)
    return bool(spelt & known) or len(set(plain)) < 4 or steps in ({1}, {-1}) or repeated


def _guessable(settings: Settings) -> Iterator[Sentence]:
    """Passwords that are soon guessed, where more than this computer can try them."""
    site, page, broker = settings.site, settings.page, settings.broker
    doors = (
        ("page", page.password, page.enabled and not is_loopback(page.listen)),
        ("broker", broker.password, not is_loopback(broker.listen if broker.embedded else broker.host)),
    )
    for table, secret, is_open in doors:
        if secret is None or not is_open:
            continue
        password = secret.get_secret_value()
        names = (site.id, site.title, broker.username or "", broker.client_id)
        if len(password) < SHORTEST_PASSWORD:
            yield sentence(
                "the password of [{table}] is short: others on that network can guess it. "
                "Take {count} letters or more, such as four words.",
                table=table,
                count=str(SHORTEST_PASSWORD),
            )
        elif is_soon_guessed(password, names):
            yield sentence(
                "the password of [{table}] is one of those that are tried first: others on that network can "
                "guess it. Take four words that have nothing to do with one another.",
                table=table,
            )


def names_everybody(proxy: str) -> bool:
    """Whether a proxy of the page is every address: whom a header names would then be believed of anybody."""
    try:
        return proxy.strip() == "*" or ip_network(proxy, strict=False).prefixlen == 0
    except ValueError:
        return False


def _open_doors(settings: Settings) -> Iterator[Sentence]:
    if any(map(names_everybody, settings.page.proxies)):
        yield sentence(
            "[page] proxies names every address, which is left out: anybody could name another address for "
            "each guess at the password. Give the address of the web server in front of the page."
        )
    broker = settings.broker
    if broker.embedded and broker.password is None and not is_loopback(broker.listen):
        yield sentence(
            "the embedded broker listens on {address} without a password: anyone on that network can "
            "send readings. Keep the nodes on a network of their own, or set username and password.",
            address=broker.listen,
        )
    if (
        not broker.embedded
        and broker.password is not None
        and not broker.tls
        and not is_loopback(broker.host)
    ):
        yield sentence(
            "the password goes to {host} unencrypted. Set tls = true if the broker can do it.",
            host=broker.host,
        )


def _broker_notes(settings: Settings) -> Iterator[Sentence]:
    if settings.broker.embedded:
        yield sentence(
            "the embedded broker is for a first evening: it has no rules for each board, so that any board "
            "can speak as any other, and it keeps nothing over a restart: what boards send meanwhile is lost "
            "unless they keep it. For good: install mosquitto, then `rearing-monitor broker setup`."
        )
        return
    if settings.broker.files is not None:
        return  # `broker setup` wrote these lines.
    yield sentence(
        "a mosquitto broker keeps messages for this program only with these lines in its configuration: "
        "persistence true, autosave_interval 1, max_queued_messages 100000 (its default keeps 1000)."
    )


def _people_notes(settings: Settings) -> Iterator[Sentence]:
    if len(settings.recipients) == 1:
        yield sentence("only one person is told: a second [[recipients]] table with order = 2 adds another.")
    if settings.messages.heartbeat_url is None:
        yield sentence(
            "if this computer itself dies, nobody is told, unless an outside service notices: "
            "see heartbeat_url in [messages]."
        )
    if settings.page.public_address is not None and not settings.page.enabled:
        yield sentence("[page] has a public_address, but the page is off (enabled = false).")


_WARNINGS: tuple[Callable[[Settings], Iterator[Sentence]], ...] = (
    _unplaced,
    _impatient,
    _rarely_heard,
    _not_for_boards,
    _people,
    _open_doors,
    _guessable,
)
_NOTES: tuple[Callable[[Settings], Iterator[Sentence]], ...] = (_broker_notes, _people_notes)
