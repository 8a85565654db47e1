"""`send-test`: does a message reach each person, and if not, why not."""

from __future__ import annotations

from typing import Annotated

import typer

from monitor.cli.context import ask, clock_ms, is_running, open_farm, person, wait_until
from monitor.cli.options import ConfigOption
from monitor.cli.output import ExitCode, complain, say
from monitor.errors import ChannelError, StoreUnreadable, UsageError
from monitor.notify.channels import open_channel
from monitor.notify.policy import RecipientPolicy, trial_messages
from monitor.records import Command, CommandKind, MessageKind, OutboxMessage
from monitor.settings.schema import Settings
from monitor.store import OutboxRecord, OutboxState, Store
from monitor.words.phrases import plural

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
    store = _running_store(settings)
    failed = _directly(settings, recipient) if store is None else _by_service(store, recipient)
    if failed:
        raise typer.Exit(ExitCode.OTHER)


def _known(recipient: str, settings: Settings) -> None:
    names = [one.id for one in settings.recipients]
    if not names:
        raise UsageError(
            "the settings name nobody to send to. To mend: add a [[recipients]] table with id and address"
        )
    if recipient and recipient not in names:
        raise UsageError(f"there is no recipient {recipient!r}; allowed: {', '.join(names)}")


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


def _directly(settings: Settings, recipient: str) -> int:
    """Send without the service; gives the number of messages that were not taken."""
    say("The monitor does not run; the test goes out from here.", "quiet")
    circle = RecipientPolicy.of(settings)
    messages = trial_messages(circle, settings.site.title, clock_ms(), recipient or None)
    addresses = {one.id: one.address.get_secret_value() for one in settings.recipients}
    return sum(not _sent(message, addresses[message.recipient]) for message in messages)


def _sent(message: OutboxMessage, address: str) -> bool:
    try:
        open_channel(address).send(message.title, message.body)
    except ChannelError as error:
        complain(f"{message.recipient}: not sent: {error}")
        return False
    say(f"{message.recipient}: sent", "good")
    return True


def _by_service(store: Store, recipient: str) -> int:
    """Ask the service to send, and wait for what the channels say; gives the number not taken."""
    with store:
        now_ms = clock_ms()
        command = Command(CommandKind.SEND_TEST, now_ms, person(""), reason=recipient)
        if not ask(store, [command], now_ms):
            return 1
        wait_until(lambda: _all_tried(store, now_ms), SEND_WAIT_S)
        return sum(not _told(record.message, record.state) for record in _tests(store, now_ms))


def _tests(store: Store, since_ms: int) -> list[OutboxRecord]:
    return [one for one in store.outbox.history(since_ms) if one.message.kind is MessageKind.TEST]


def _all_tried(store: Store, since_ms: int) -> bool:
    tried = [
        record.state is not OutboxState.WAITING or record.message.attempts > 0
        for record in _tests(store, since_ms)
    ]
    return bool(tried) and all(tried)


def _told(message: OutboxMessage, state: OutboxState) -> bool:
    if state is OutboxState.SENT:
        say(f"{message.recipient}: sent", "good")
        return True
    why = message.last_error or f"no answer within {plural(round(SEND_WAIT_S), 'second')}"
    complain(f"{message.recipient}: not sent yet: {why}. The monitor goes on trying")
    return False
