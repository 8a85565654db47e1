"""`send-test`: does a message reach each person, and if not, why not."""

from __future__ import annotations

from typing import Annotated

import typer

from monitor.cli.context import ask, is_running, open_farm, person, wait_until
from monitor.cli.language import clock_ms, command_words
from monitor.cli.options import ConfigOption
from monitor.cli.output import ExitCode, complain, say
from monitor.errors import ChannelError, StoreUnreadable, UsageError
from monitor.notify.channels import open_channel
from monitor.notify.outbox import is_waiting
from monitor.notify.policy import RecipientPolicy, trial_messages
from monitor.records import Command, CommandKind, MessageKind, OutboxMessage
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.words.localizer import Localizer

SEND_WAIT_S = 30.0

RecipientArgument = Annotated[
    str, typer.Argument(metavar="RECIPIENT", help="Only to this person. Without it: to everybody.")
]


def register(app: typer.Typer) -> None:
    """Add the command of this module."""
    app.command("send-test")(send_test)


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
    policy = RecipientPolicy.of(settings)
    messages = trial_messages(policy, settings.site.title, clock_ms(), recipient or None)
    addresses = {person.id: person.address.get_secret_value() for person in settings.recipients}
    return sum(not _sent(message, addresses[message.recipient], words) for message in messages)


def _sent(message: OutboxMessage, address: str, words: Localizer) -> bool:
    try:
        open_channel(address).send(message.title, message.body)
    except ChannelError as error:
        complain(words.t("trial.not_sent", name=message.recipient, why=words.error(error)))
        return False
    say(words.t("trial.sent", name=message.recipient), "good")
    return True


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
        say(words.t("trial.sent", name=message.recipient), "good")
        return True
    why = message.last_error or words.n("trial.no_answer", round(SEND_WAIT_S))
    complain(words.t("trial.not_yet", name=message.recipient, why=why))
    return False
