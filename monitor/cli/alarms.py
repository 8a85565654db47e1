"""`ack`, `shelve`, `unshelve`, `take-out`, `put-back`: what a person decides about alarms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import typer

from monitor.alarms.state_machine import LONGEST_SHELF_DAYS
from monitor.cli.context import SiteContext, ask, person, say_lines, working
from monitor.cli.options import ConfigOption, with_options
from monitor.cli.output import say
from monitor.errors import Sentence, UsageError, sentence
from monitor.farm.names import find_alarms, is_one_thing, listed
from monitor.logbook.times import parse_length
from monitor.records import MS_PER_DAY, STANDING, UNSEEN, AlarmStatus, Command, CommandKind
from monitor.words.alarms import named

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
_ACK_EXAMPLES = (
    "Examples: [bold]rearing-monitor ack bin-3[/bold], [bold]rearing-monitor ack 17 --by Naledi[/bold]"
)
_SHELVE_EXAMPLES = (
    'Example: [bold]rearing-monitor shelve tray-1 --for "2 h" --reason "changing the water"[/bold]'
)
_TAKE_OUT_EXAMPLES = (
    'Example: [bold]rearing-monitor take-out 17 --reason "probe broken, new one ordered"[/bold]'
)


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person decides about an alarm, in words that follow "was", and the states in which it fits."""

    kind: CommandKind
    done: Sentence
    fitting: frozenset[AlarmStatus]


ACKNOWLEDGE = Decision(CommandKind.ACKNOWLEDGE, sentence("acknowledged"), UNSEEN)
IN_SERVICE = frozenset(AlarmStatus) - {AlarmStatus.OUT_OF_SERVICE}
SHELVE = Decision(CommandKind.SHELVE, sentence("shelved"), IN_SERVICE)
UNSHELVE = Decision(CommandKind.UNSHELVE, sentence("taken from the shelf"), frozenset({AlarmStatus.SHELVED}))
TAKE_OUT = Decision(CommandKind.TAKE_OUT, sentence("taken out of service"), IN_SERVICE)
PUT_BACK = Decision(
    CommandKind.PUT_BACK, sentence("put back into service"), frozenset({AlarmStatus.OUT_OF_SERVICE})
)


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("ack", epilog=_ACK_EXAMPLES)(ack)
    app.command("shelve", epilog=_SHELVE_EXAMPLES)(shelve)
    app.command("unshelve")(unshelve)
    app.command("take-out", epilog=_TAKE_OUT_EXAMPLES)(take_out)
    app.command("put-back")(put_back)


@dataclass(frozen=True, slots=True)
class DecisionOptions:
    """What every command that decides about an alarm is given."""

    by: ByOption = ""
    reason: ReasonOption = ""
    config: ConfigOption = None


class Deciding:
    """One decision of a person about alarms of the site."""

    def __init__(self, site: SiteContext, decision: Decision, options: DecisionOptions) -> None:
        self.site, self.decision = site, decision
        self._actor, self._reason = person(options.by), options.reason
        self._states = site.store.journal.states()

    def fitting(self) -> list[str]:
        """The alarms that are in a state for this decision."""
        return [name for name in self.site.plan.rules if self._status(name) in self.decision.fitting]

    def _status(self, alarm_id: str) -> AlarmStatus:
        state = self._states.get(alarm_id)
        return AlarmStatus.NORMAL if state is None else state.status

    def find(self, name: str) -> Sequence[str]:
        """What the person named; UsageError where it is in a state in which this cannot be done."""
        chosen = find_alarms(name, self.site.plan, self.fitting(), self.decision.done)
        wrong = [alarm_id for alarm_id in chosen if self._status(alarm_id) not in self.decision.fitting]
        if wrong:
            words = self.site.words
            states = words.clauses(
                words.headed(name, words.t(f"status.{self._status(name)}")) for name in wrong
            )
            raise UsageError(
                "this cannot be {done} now: {states}. See `rearing-monitor alarms`",
                done=self.decision.done,
                states=states,
            )
        return chosen

    def find_standing(self, name: str) -> Sequence[str]:
        """What the person named; a place alone means the alarm that stands there, if one does."""
        rules = self.site.plan.rules
        standing = [alarm_id for alarm_id in rules if self._status(alarm_id) in STANDING]
        is_standing_there = any(rules[alarm_id].place == name for alarm_id in standing)
        return find_alarms(
            name, self.site.plan, standing if is_standing_there else self.fitting(), self.decision.done
        )

    def hand_over(
        self, chosen: Sequence[str], done: Sentence | None = None, until_ms: int | None = None
    ) -> bool:
        """Ask the service and say what was done; that it waits for the service is said by `ask`."""
        site, words, kind = self.site, self.site.words, self.decision.kind
        commands = [Command(kind, site.now_ms, self._actor, name, until_ms, self._reason) for name in chosen]
        answered = ask(site.store, commands, words)
        text = words.sentence(done or self.decision.done)
        for name in chosen:
            rule = site.plan.rules[name]
            what = f"{named(rule, site.plan, words)} ({words.t(f'priority.{rule.priority}').lower()})"
            if answered:
                say(words.t("decide.done", done=text, what=what, who=self._actor), "good")
            else:
                say(words.t("decide.kept", done=text, what=what))
        return answered


@with_options
def ack(options: DecisionOptions, alarm: MaybeAlarmArgument = "", every: EveryOption = False) -> None:
    """Say that you know of an alarm and look after it: nobody else is told, nobody is reminded.

    The alarm itself stays until its value is right again.
    """
    with working(options.config) as site:
        decided = Deciding(site, ACKNOWLEDGE, options)
        chosen = decided.fitting() if every else _only_one(decided) if not alarm else decided.find(alarm)
        if chosen:
            decided.hand_over(chosen)
        else:
            say(site.words.t("decide.none_waits"))


@with_options
def shelve(
    options: DecisionOptions, alarm: AlarmArgument, length: ForOption = "1 h", until: UntilOption = ""
) -> None:
    """Put an alarm aside for a while, because you know of it and work on it. It comes back by itself."""
    with working(options.config) as site:
        until_ms = _shelf_end(site, length, until)
        decided = Deciding(site, SHELVE, options)
        chosen = decided.find_standing(alarm)
        done = sentence("shelved until {at}", at=site.words.clock(until_ms))
        decided.hand_over(chosen, done, until_ms)


@with_options
def unshelve(options: DecisionOptions, alarm: AlarmArgument) -> None:
    """Take an alarm from the shelf before its time is over."""
    with working(options.config) as site:
        decided = Deciding(site, UNSHELVE, options)
        decided.hand_over(decided.find(alarm))


@with_options
def take_out(options: DecisionOptions, alarm: AlarmArgument) -> None:
    """Take an alarm out of service, for a broken sensor say. It stays out until you put it back."""
    with working(options.config) as site:
        decided = Deciding(site, TAKE_OUT, options)
        chosen = decided.find_standing(alarm)
        if decided.hand_over(chosen):
            say(site.words.t("decide.nobody_warned"))
            say_lines([f"  rearing-monitor put-back {name}" for name in chosen])


@with_options
def put_back(options: DecisionOptions, alarm: AlarmArgument) -> None:
    """Put an alarm back into service."""
    with working(options.config) as site:
        decided = Deciding(site, PUT_BACK, options)
        decided.hand_over(decided.find(alarm))


def _only_one(decided: Deciding) -> Sequence[str]:
    """The only thing that comes into question, where the person named none."""
    fitting, plan, done = decided.fitting(), decided.site.plan, decided.decision.done
    if is_one_thing(fitting, plan):
        return fitting
    if not fitting:
        raise UsageError("no alarm waits to be {done}", done=done)
    raise UsageError(
        "{count} alarms can be {done}; say which by its number, or --all:\n{choices}",
        count=len(fitting),
        done=done,
        choices=listed(fitting, plan),
    )


def _shelf_end(site: SiteContext, length: str, until: str) -> int:
    end_ms = site.times(ahead=True).moment(until) if until else site.now_ms + parse_length(length)
    if not site.now_ms < end_ms <= site.now_ms + LONGEST_SHELF_DAYS * MS_PER_DAY:
        raise UsageError(
            "the shelf would end at {at}; allowed: an end that is ahead, at most {days} days. "
            "For longer: rearing-monitor take-out",
            at=site.words.clock(end_ms),
            days=LONGEST_SHELF_DAYS,
        )
    return end_ms
