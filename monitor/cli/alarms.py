"""`ack`, `shelve`, `unshelve`, `take-out`, `put-back`: what a person decides about alarms."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Annotated

import typer

from monitor.alarms.state_machine import LONGEST_SHELF_DAYS
from monitor.cli.context import SiteContext, ask, person, say_lines, working
from monitor.cli.options import ConfigOption
from monitor.cli.output import say
from monitor.errors import UsageError
from monitor.farm.names import find_alarms, is_one_thing, listed
from monitor.logbook.times import parse_length, parse_moment
from monitor.records import MS_PER_DAY, STANDING, AlarmState, AlarmStatus, Command, CommandKind
from monitor.words.localizer import Localizer
from monitor.words.phrases import clock_time, quantity_title

_UNSEEN = frozenset({AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED})
_OUT = frozenset({AlarmStatus.OUT_OF_SERVICE})
_SHELVED = frozenset({AlarmStatus.SHELVED})

AlarmArgument = Annotated[
    str,
    typer.Argument(
        metavar="ALARM",
        help="Its number or name in `alarms`, or its place while only one thing there comes into question.",
    ),
]
MaybeAlarmArgument = Annotated[
    str,
    typer.Argument(
        metavar="ALARM",
        help="Its number or name in `alarms`, or its place. Without it: the only thing that waits.",
        show_default=False,
    ),
]
EveryOption = Annotated[bool, typer.Option("--all", help="All that wait to be acknowledged.")]
ByOption = Annotated[
    str,
    typer.Option("--by", metavar="NAME", help="Who decides, for the journal. Without it: your user name."),
]
ReasonOption = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why, for the journal.")]
ForOption = Annotated[
    str, typer.Option("--for", metavar="LENGTH", help="For how long: 30 min, 2 h, 1 day. At most 7 days.")
]
UntilOption = Annotated[
    str, typer.Option("--until", metavar="TIME", help="Or until when: 14:00, tomorrow 06:00.")
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("ack", epilog=_ACK_EXAMPLES)(ack)
    app.command("shelve", epilog=_SHELVE_EXAMPLES)(shelve)
    app.command("unshelve")(unshelve)
    app.command("take-out", epilog=_TAKE_OUT_EXAMPLES)(take_out)
    app.command("put-back")(put_back)


_ACK_EXAMPLES = (
    "Examples: [bold]rearing-monitor ack bin-3[/bold], [bold]rearing-monitor ack 17 --by Naledi[/bold]"
)
_SHELVE_EXAMPLES = (
    'Example: [bold]rearing-monitor shelve tray-1 --for "2 h" --reason "changing the water"[/bold]'
)
_TAKE_OUT_EXAMPLES = (
    'Example: [bold]rearing-monitor take-out 17 --reason "probe broken, new one ordered"[/bold]'
)


def ack(
    alarm: MaybeAlarmArgument = "",
    every: EveryOption = False,
    by: ByOption = "",
    reason: ReasonOption = "",
    config: ConfigOption = None,
) -> None:
    """Say that you know of an alarm and look after it: nobody else is told, nobody is reminded.

    The alarm itself stays until its value is right again.
    """
    with working(config) as look:
        states = look.store.journal.states()
        fitting = _in_status(look, states, _UNSEEN)
        chosen = fitting if every else _chosen(alarm, look, fitting, "acknowledged")
        if not chosen:
            say("No alarm waits to be acknowledged.")
            return
        _refuse_others(look.words, chosen, states, _UNSEEN, "acknowledged")
        _carry_out(look, chosen, CommandKind.ACKNOWLEDGE, "acknowledged", by, reason)


def shelve(
    alarm: AlarmArgument,
    length: ForOption = "1 h",
    until: UntilOption = "",
    by: ByOption = "",
    reason: ReasonOption = "",
    config: ConfigOption = None,
) -> None:
    """Put an alarm aside for a while, because you know of it and work on it. It comes back by itself."""
    with working(config) as look:
        until_ms = _shelf_end(look, length, until)
        states = look.store.journal.states()
        free = [name for name in look.plan.rules if _status(states, name) is not AlarmStatus.OUT_OF_SERVICE]
        standing = _in_status(look, states, STANDING)
        chosen = find_alarms(alarm, look.plan, _prefer(alarm, look, standing, free), "shelved")
        words = f"shelved until {clock_time(until_ms, look.now_ms, look.zone)}"
        _carry_out(look, chosen, CommandKind.SHELVE, words, by, reason, until_ms)


def unshelve(
    alarm: AlarmArgument, by: ByOption = "", reason: ReasonOption = "", config: ConfigOption = None
) -> None:
    """Take an alarm from the shelf before its time is over."""
    with working(config) as look:
        _back(look, alarm, _SHELVED, CommandKind.UNSHELVE, "taken from the shelf", by, reason)


def take_out(
    alarm: AlarmArgument, by: ByOption = "", reason: ReasonOption = "", config: ConfigOption = None
) -> None:
    """Take an alarm out of service, for a broken sensor say. It stays out until you put it back."""
    with working(config) as look:
        states = look.store.journal.states()
        free = [name for name in look.plan.rules if _status(states, name) is not AlarmStatus.OUT_OF_SERVICE]
        standing = _in_status(look, states, STANDING)
        chosen = find_alarms(alarm, look.plan, _prefer(alarm, look, standing, free), "taken out of service")
        if _carry_out(look, chosen, CommandKind.TAKE_OUT, "taken out of service", by, reason):
            say("Nobody is warned of this any more. To put it back:")
            say_lines([f"  rearing-monitor put-back {name}" for name in chosen])


def put_back(
    alarm: AlarmArgument, by: ByOption = "", reason: ReasonOption = "", config: ConfigOption = None
) -> None:
    """Put an alarm back into service."""
    with working(config) as look:
        _back(look, alarm, _OUT, CommandKind.PUT_BACK, "put back into service", by, reason)


def _back(
    look: SiteContext,
    alarm: str,
    wanted: Collection[AlarmStatus],
    kind: CommandKind,
    words: str,
    by: str,
    reason: str,
) -> None:
    states = look.store.journal.states()
    chosen = find_alarms(alarm, look.plan, _in_status(look, states, wanted), words)
    _refuse_others(look.words, chosen, states, wanted, words)
    _carry_out(look, chosen, kind, words, by, reason)


def _chosen(alarm: str, look: SiteContext, fitting: list[str], verb: str) -> Sequence[str]:
    """What is named, or without a name the only thing that comes into question."""
    if alarm:
        return find_alarms(alarm, look.plan, fitting, verb)
    if is_one_thing(fitting, look.plan):
        return fitting
    if not fitting:
        raise UsageError(f"no alarm waits to be {verb}")
    choices = listed(fitting, look.plan)
    raise UsageError(f"{len(fitting)} alarms can be {verb}; say which by its number, or --all:\n{choices}")


def _prefer(alarm: str, look: SiteContext, standing: list[str], free: list[str]) -> list[str]:
    """A place alone means the alarm that stands there; where none stands, any alarm of the place."""
    there = [name for name in standing if look.plan.rules[name].place == alarm]
    return standing if there else free


def _in_status(
    look: SiteContext, states: Mapping[str, AlarmState], wanted: Collection[AlarmStatus]
) -> list[str]:
    return [name for name in look.plan.rules if _status(states, name) in wanted]


def _status(states: Mapping[str, AlarmState], alarm_id: str) -> AlarmStatus:
    state = states.get(alarm_id)
    return AlarmStatus.NORMAL if state is None else state.status


def _refuse_others(
    words: Localizer,
    chosen: Iterable[str],
    states: Mapping[str, AlarmState],
    wanted: Collection[AlarmStatus],
    verb: str,
) -> None:
    wrong = [name for name in chosen if _status(states, name) not in wanted]
    if wrong:
        said = "; ".join(f"{name}: {words.t(f'status.{_status(states, name)}')}" for name in wrong)
        raise UsageError(f"this cannot be {verb} now: {said}. See `rearing-monitor alarms`")


def _shelf_end(look: SiteContext, length: str, until: str) -> int:
    if until:
        end_ms = parse_moment(until, look.now_ms, look.zone, ahead=True)
    else:
        end_ms = look.now_ms + parse_length(length)
    if not look.now_ms < end_ms <= look.now_ms + LONGEST_SHELF_DAYS * MS_PER_DAY:
        raise UsageError(
            f"the shelf would end at {clock_time(end_ms, look.now_ms, look.zone)}; allowed: an end that is "
            f"ahead, at most {LONGEST_SHELF_DAYS} days. For longer: rearing-monitor take-out"
        )
    return end_ms


def _carry_out(
    look: SiteContext,
    chosen: Sequence[str],
    kind: CommandKind,
    words: str,
    by: str,
    reason: str,
    until_ms: int | None = None,
) -> bool:
    """Hand it to the service and say what was done; what waits for the service is said by `ask`."""
    actor = person(by)
    commands = [Command(kind, look.now_ms, actor, name, until_ms, reason) for name in chosen]
    done = ask(look.store, commands, look.words)
    for name in chosen:
        rule = look.plan.rules[name]
        what = f"{look.plan.title(rule.place)}, {quantity_title(rule.quantity)} {rule.side} ({rule.priority})"
        if done:
            say(f"{words}: {what}, by {actor}", "good")
        else:
            say(f"kept for the monitor, to be {words}: {what}")
    return done
