"""`check` looks a settings file over, `send-test` tries whether its people are reached.

`check` also looks at the database and its disk, since an alarm about storage sends people here.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor.alarms.rules import PossibleStages
from monitor.errors import (
    IntakeError,
    MonitorError,
    Sentence,
    SettingsError,
    StoreError,
    StoreUnreadable,
    UsageError,
    sentence,
)
from monitor.farm.book import carried_over
from monitor.farm.occupancy import last_known_plan
from monitor.farm.place_reader import PlaceReader, heat_sounded
from monitor.farm.places import site_now
from monitor.farm.records import SiteNow
from monitor.logbook.place_entries import Unguarded, Why
from monitor.notify.channels import Channel, Pushed, open_channels
from monitor.notify.outbox import is_waiting
from monitor.notify.outbox_worker import refusal
from monitor.notify.policy import RecipientPolicy, person_of, phone_of, trial_messages
from monitor.records import Command, CommandKind, MessageKind, OutboxMessage
from monitor.settings.checking import Review, review
from monitor.settings.schema import Settings
from monitor.store import Store, copies
from monitor.store.connection import FREE_ROOM, FileInspection
from monitor.store.kept_sentences import unpacked
from monitor.store.meta import AWAY, BROKER_WAY
from monitor.store.outbox import GonePhone
from monitor.terminal.context import (
    ConfigOption,
    JsonOption,
    QuietOption,
    ask,
    clock_ms,
    command_words,
    heard_lately,
    is_running,
    now_of,
    open_farm,
    person,
    probes_calibrated,
    wait_until,
)
from monitor.terminal.output import ExitCode, complain, plain, say, say_json
from monitor.words.alarm_messages import Text
from monitor.words.alarms import GuardText, guard_text, sounded_text
from monitor.words.guard import question_lines, unguarded, unheard
from monitor.words.localizer import Localizer

if TYPE_CHECKING:
    from monitor.intake.broker_check import Step

FULL_BYTES = 2_000_000
SCARCE_BYTES = 200_000_000
SEND_WAIT_S = 30.0


BrokerCheckOption = Annotated[
    bool,
    typer.Option("--broker", help="Try the broker too: connect, log in, subscribe, and hear oneself."),
]
RecipientArgument = Annotated[
    str, typer.Argument(metavar="RECIPIENT", help="Only to this person. Without it: to everybody.")
]


def database_problems(path: Path) -> tuple[Sentence, ...]:
    """Why readings cannot be kept: a full disk, a damaged or foreign file. Reads the whole file."""
    problems = []
    if _free(path) < FULL_BYTES:
        full = sentence(
            "the disk that holds {path} is full. To mend: {remedy}",
            path=str(path),
            remedy=FREE_ROOM,
        )
        problems.append(full)
    if path.is_file():
        try:
            FileInspection(path).run()
        except StoreError as error:
            problems.append(error.said)
    return tuple(problems)


def database_warnings(path: Path) -> tuple[Sentence, ...]:
    """What will stop readings from being kept before long."""
    free = _free(path)
    if not FULL_BYTES <= free < SCARCE_BYTES:
        return ()
    scarce = sentence(
        "the disk that holds {path} has only {megabytes} MB left. To mend: {remedy}",
        path=str(path),
        megabytes=f"{free / 1e6:.0f}",
        remedy=FREE_ROOM,
    )
    return (scarce,)


def logbook_warnings(path: Path) -> tuple[Sentence, ...]:
    """What was found when the logbook of an older version was carried over."""
    if not path.exists():
        return ()
    try:
        with Store.read_only(path) as store:
            return carried_over(store)
    except MonitorError:
        return ()  # It is told by `database_problems`.


def copy_warnings(settings: Settings) -> Iterator[Sentence]:
    """Why no daily copy can be made: what is wrong with a folder now, else what the last try met."""
    if settings.store.backup_folder is None and not settings.copies:
        return
    from monitor.copies.targets import targets_of

    met: dict[str, Sentence | None] = {}
    with suppress(MonitorError), Store.read_only(settings.store.path) as store:
        met = {state.place: state.fault for state in copies.states(store.meta, settings)}
    for target in targets_of(settings):
        fault = met.get(target.id)
        try:
            if not target.is_far:
                target.refuse_unprepared()
            if fault is not None:
                yield sentence("the last copy to {place} failed: {why}", place=target.label, why=fault)
        except MonitorError as error:
            yield error.said


def phone_warnings(settings: Settings) -> Iterator[Sentence]:
    """Who is told by the page alone, or not even by that, and phones that were lost lately."""
    having, gone = _phones_known(settings.store.path)
    for told in (each for each in settings.recipients if each.by_page_alone):
        yield sentence(
            "{name} is told by the page on the phone alone. That goes over the internet and the push "
            "service of the phone's maker, and ends without a word when the page's data are deleted. "
            "Give {name} another way as well: an address in place of webpush://, phones stay.",
            name=told.id,
        )
        if having is not None and told.id not in having:
            yield sentence(
                "{name} is told nothing: no phone takes messages. To mend: open the page over HTTPS on the "
                "phone, choose You, and turn on messages on this phone.",
                name=told.id,
            )
    for phone in gone:
        yield sentence(
            "a phone of {name} takes messages no more, since {at}. To mend: open the page on it, choose You, "
            "and turn on messages on this phone again.",
            name=phone.recipient,
            at=Localizer.of_site(settings, clock_ms()).moment(phone.gone_ms),
        )


def _phones_known(path: Path) -> tuple[frozenset[str] | None, Sequence[GonePhone]]:
    """Who has a phone that takes messages, None where that is not known; and the phones that were lost."""
    try:
        with Store.read_only(path) as store:
            return frozenset(phone.recipient for phone in store.phones.every()), store.phones.gone()
    except MonitorError:
        return None, ()  # It is told by `database_problems`.


def _free(path: Path) -> int:
    """Free bytes; as many as one could wish where the folder does not exist, which is told elsewhere."""
    folder = path.parent
    return shutil.disk_usage(folder).free if folder.is_dir() else SCARCE_BYTES


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("check")(check)
    app.command("send-test")(send_test)


def check(
    config: ConfigOption = None,
    broker: BrokerCheckOption = False,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Say what is wrong in the settings, what is doubtful, and what each place is guarded for.

    Ends with 0 when the program can run with these settings, with 2 when it
    cannot, with 3 when the database or its disk keeps it from that, with 4 when
    the way to the broker does.
    """
    try:
        farm = open_farm(config, try_addresses=True)
    except SettingsError as error:
        if not as_json:
            raise
        say_json({"problems": error.problems, "warnings": [], "notes": [], "guards": []})
        raise typer.Exit(ExitCode.USAGE) from None
    path = farm.settings.store.path
    words = command_words(farm.settings)
    now, stages = _site_now(farm.settings)
    as_said = farm if now is None else replace(farm, settings=_as_said(farm.settings, now))
    reviewed = review(as_said, heard_lately(path), probes_calibrated(path), stages)
    warnings = [words.sentence(said) for said in _warnings(farm.settings, reviewed, now)]
    notes = [words.sentence(said) for said in reviewed.notes]
    prices = _heat_prices(farm.settings, words)
    guards = [_with_words(guard_text(guard, words), now, words) for guard in reviewed.guards]
    guards = [replace(each, heat=(*each.heat, *prices.get(each.place.id, ()))) for each in guards]
    faults = [words.sentence(said) for said in database_problems(path)]
    if as_json:
        steps = list(_broker_steps(farm.settings, words, shown=False)) if broker else []
        checked: dict[str, Any] = {"warnings": warnings, "notes": notes, "guards": plain(guards)}
        if broker:
            checked["broker"] = [{"good": good, "said": said} for good, said in steps]
        say_json({"problems": (), "database": faults, **checked})
    else:
        for fault in faults:
            complain(fault)
        if quiet:
            for warning in warnings:
                complain(words.t("check.warning", warning=warning), "warning")
        else:
            say(words.t("check.fine", site=farm.settings.site.title, file=str(farm.path)), "good")
            _show_list(words.t("check.warnings"), warnings, "warning")
            _show_list(words.t("check.notes"), notes)
            _show_guards(guards, words)
        steps = list(_broker_steps(farm.settings, words, shown=not quiet)) if broker else []
    if faults:
        raise typer.Exit(ExitCode.STORE)
    if not all(good for good, _ in steps):
        raise typer.Exit(ExitCode.BROKER)


def _warnings(settings: Settings, reviewed: Review, now: SiteNow | None) -> Iterator[Sentence]:
    """What should be done: about the settings, the database, the logbook and the copies."""
    path = settings.store.path
    yield from reviewed.warnings
    yield from _without_effect(settings, now)
    yield from database_warnings(path)
    yield from logbook_warnings(path)
    yield from copy_warnings(settings)
    yield from phone_warnings(settings)
    if settings.broker.files is not None:
        from monitor.boards.broker_warnings import broker_warnings

        yield from broker_warnings(settings, datetime.now(UTC))


def _site_now(settings: Settings) -> tuple[SiteNow | None, PossibleStages]:
    """What people said of the places and what may live there; nothing without a readable database."""
    if not settings.store.path.is_file():
        return None, {}
    try:
        with Store.read_only(settings.store.path) as store:
            now_ms = now_of(store)
            plan = last_known_plan(store, settings, now_ms)
            return site_now(store, plan, now_ms), plan.said.stages
    except StoreError:
        return None, {}  # It is told by `database_problems`.


def _heat_prices(settings: Settings, words: Localizer) -> dict[str, list[str]]:
    """What the limits of heat of each place would have meant in the last month."""
    if not settings.store.path.is_file():
        return {}
    try:
        with Store.read_only(settings.store.path) as store:
            now_ms = now_of(store)
            reader = PlaceReader(store, last_known_plan(store, settings, now_ms), now_ms)
            places = (place.id for place in settings.places)
            return {
                place: [sounded_text(each, words) for each in heat_sounded(reader, place)] for place in places
            }
    except StoreError:
        return {}


def _as_said(settings: Settings, now: SiteNow) -> Settings:
    """The settings with each place as empty as the logbook says."""
    empty = {place.id: place.empty for place in now.places}
    places = tuple(
        place.model_copy(update={"empty": empty.get(place.id, False)}) for place in settings.places
    )
    return settings.model_copy(update={"places": places})


def _without_effect(settings: Settings, now: SiteNow | None) -> Iterator[Sentence]:
    """The places that the settings call empty although the logbook has spoken of animals in them."""
    by_file = {place.id for place in now.places if place.unguarded == Unguarded(Why.FILE)} if now else set()
    for place in settings.places if now else ():
        if place.empty and place.id not in by_file:
            yield sentence(
                "{place}: empty = true has no effect, since the logbook has spoken of it. Take the key out; "
                "who says what is empty is the logbook: {command}",
                place=place.id,
                command=f"rearing-monitor place empty {place.id}",
            )


def _with_words(guard: GuardText, now: SiteNow | None, words: Localizer) -> GuardText:
    """With everything that does not guard the place now, who said so and how to undo it."""
    known = next((place for place in now.places if place.id == guard.place.id), None) if now else None
    if known is None:
        return guard
    said = (*unguarded(known, words), *question_lines(known, words))
    yet = () if known.current else unheard(known, words)
    return replace(guard, said=(*said, *yet), held_back=() if said else guard.held_back)


def _broker_steps(settings: Settings, words: Localizer, shown: bool) -> Iterator[tuple[bool, str]]:
    """Each step of the way to the broker, said as soon as it is known."""
    if shown:
        say()
        say(words.t("check.broker", where=f"{settings.broker.host}:{settings.broker.port}"), "heading")
    for step in _tried_steps(settings):
        said = words.sentence(step.said)
        if not step.good:
            complain("  " + words.t("check.step_bad", said=said))
        elif shown:
            say("  " + words.t("check.step_good", said=said), "good")
        yield step.good, said


def _tried_steps(settings: Settings) -> Iterator[Step]:
    """The steps as the running service knows them; without one, tried from here."""
    from monitor.intake.broker import EmbeddedBroker
    from monitor.intake.broker_check import Step, broker_steps, steps_of_running_service
    from monitor.intake.payload import compile_routes
    from monitor.intake.proof import Way

    broker, site = settings.broker, settings.site.id
    store = _running_store(settings)
    if store is not None:
        with store:
            known = store.meta.get(BROKER_WAY) or AWAY
        if known != AWAY:  # A second connection could throw the service off.
            yield from steps_of_running_service(site, broker.topic_root, broker.username, Way(known))
            return
    own = EmbeddedBroker.wanted(broker) if store is None else None
    routes = compile_routes(settings.intake.plain)
    try:
        if own is not None:
            own.start()
        yield from broker_steps(broker, site, [route.filter for route in routes])
    except IntakeError as error:
        yield Step(False, error.said)
    finally:
        if own is not None:
            own.stop()


def _show_list(title: str, lines: Sequence[str], style: str = "") -> None:
    if lines:
        say()
        say(title, "heading")
    for line in lines:
        say(f"  - {line}", style)


def _show_guards(guards: Sequence[GuardText], words: Localizer) -> None:
    say()
    say(words.t("check.guards"), "heading")
    for guard in guards:
        say()
        say(f"  {guard.name}", "heading")
        for line in guard.said:
            say(f"    {line}")
        for reason in guard.held_back:
            say("    " + words.t("check.held_back", reason=reason))
        for line in guard.guarded:
            said = line if guard.sensors_known else words.t("check.if_measured", what=line)
            say(f"    {said}")
        for line in guard.heat:
            say(f"    {line}", "quiet")
        for line in guard.unguarded:
            say("    " + words.t("check.unguarded", what=line), "quiet")
        if not guard.sensors_known:
            say("    " + words.t("check.sensors_unknown"), "quiet")
    if not guards:
        say(words.t("check.no_places"))


def send_test(recipient: RecipientArgument = "", config: ConfigOption = None) -> None:
    """Send a test message to each person in the settings, and say whether it was taken.

    While the monitor runs, it sends the message itself, over the very way that
    alarms take. Ends with 0 when every message was taken, with 5 when one was
    not.
    """
    settings = open_farm(config).settings
    _known(recipient, settings)
    store, words = _running_store(settings), command_words(settings)
    failed = _by_service(store, recipient, words) if store else _directly(settings, recipient, words)
    if failed:
        raise typer.Exit(ExitCode.OTHER)


def _known(recipient: str, settings: Settings) -> None:
    names = [person.id for person in settings.recipients]
    if not names:
        raise UsageError(
            "the settings name nobody to send to. To mend: add a [[recipients]] table with id and address"
        )
    if recipient and recipient not in names:
        raise UsageError(
            'there is no recipient "{name}"; allowed: {names}', name=recipient, names=", ".join(names)
        )


def _running_store(settings: Settings) -> Store | None:
    """The store of a service that runs; None where none does, or where there is no store yet."""
    try:
        store = Store.open(settings.store.path, create=False, check=False)
    except StoreUnreadable:
        return None
    if is_running(store, clock_ms()):
        return store
    store.close()
    return None


def _directly(settings: Settings, recipient: str, words: Localizer) -> int:
    """Send without the service; gives the number of messages that were not taken."""
    say(words.t("trial.from_here"), "quiet")
    from monitor.notify.push import phones_of

    with phones_of(settings) as (phones, ways):
        policy = RecipientPolicy.of(settings).with_phones(phones)
        channels = {**open_channels(settings.recipients)[0], **ways}
        messages = trial_messages(policy, settings.site.title, clock_ms(), recipient or None)
        return sum(not _sent(message, channels[message.recipient], words) for message in messages)


def _sent(message: OutboxMessage, channel: Channel, words: Localizer) -> bool:
    about = Pushed(message.kind, message.priority, words)
    error = refusal(channel, Text(message.title, message.body), about)
    if error is not None:
        complain(words.t("trial.not_sent", name=_name(message, words), why=words.error(error)))
        return False
    say(words.t("trial.sent", name=_name(message, words)), "good")
    return True


def _name(message: OutboxMessage, words: Localizer) -> str:
    """Whom a message went to, and whether by a phone."""
    name = person_of(message.recipient)
    return words.t("trial.phone_of", name=name) if phone_of(message.recipient) else name


def _by_service(store: Store, recipient: str, words: Localizer) -> int:
    """Ask the service to send, and wait for what the channels say; gives the number not taken."""
    with store:
        now_ms = words.now_ms
        command = Command(CommandKind.SEND_TEST, now_ms, person(""), reason=recipient)
        if not ask(store, [command], words):
            return 1
        wait_until(lambda: _all_tried(store, now_ms), SEND_WAIT_S)
        return sum(not _was_sent(message, words) for message in _tests(store, now_ms))


def _tests(store: Store, since_ms: int) -> list[OutboxMessage]:
    return [message for message in store.outbox.since(since_ms) if message.kind is MessageKind.TEST]


def _all_tried(store: Store, since_ms: int) -> bool:
    tried = [not is_waiting(message) or message.attempts > 0 for message in _tests(store, since_ms)]
    return bool(tried) and all(tried)


def _was_sent(message: OutboxMessage, words: Localizer) -> bool:
    if message.sent_ms is not None:
        say(words.t("trial.sent", name=_name(message, words)), "good")
        return True
    last = words.sentence(unpacked(message.last_error)) if message.last_error else ""
    why = last or words.n("trial.no_answer", round(SEND_WAIT_S))
    complain(words.t("trial.not_yet", name=_name(message, words), why=why))
    return False
