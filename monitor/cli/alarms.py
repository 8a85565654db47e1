"""`ack`, `shelve`, `unshelve`, `take-out`, `put-back`: what a person decides about alarms.

`place`: what a person says of whole places, so that they are guarded or not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import typer

from monitor.alarms.state_machine import LONGEST_SHELF_DAYS
from monitor.cli.entries import known_place
from monitor.errors import Sentence, UsageError, sentence
from monitor.farm.entries import EntryWriter
from monitor.farm.names import find_alarms, is_one_thing, listed
from monitor.farm.places import site_now
from monitor.logbook.place_entries import NodeEntryKind, PlaceEntryKind
from monitor.logbook.times import parse_length
from monitor.records import MS_PER_DAY, STANDING, UNSEEN, AlarmStatus, Command, CommandKind
from monitor.terminal.context import ByOption as WhoOption
from monitor.terminal.context import (
    ConfigOption,
    NoteOption,
    SiteContext,
    SureOption,
    ask,
    looking,
    person,
    say_lines,
    with_options,
    working,
)
from monitor.terminal.output import at_terminal, complain, is_wanted, say, width
from monitor.words.alarms import named
from monitor.words.entries import noted_text, written_text
from monitor.words.guard import doubts
from monitor.words.places import guard_lines

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
OverOption = Annotated[
    bool, typer.Option("--over", help="All that are over by themselves, and nobody has acknowledged yet.")
]
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
_EMPTY_EXAMPLE = 'Example: [bold]rearing-monitor place empty bin-4 --note "harvested and washed"[/bold]'
_ASIDE_EXAMPLE = "Example: [bold]rearing-monitor place aside bin-4 --for 1h --note cleaning[/bold]"
PlacesArgument = Annotated[
    list[str], typer.Argument(metavar="PLACE...", help="Id or title of a place in the settings.")
]
AsideOption = Annotated[
    str,
    typer.Option("--for", metavar="LENGTH", help="How long: 15 min to 4 h. Then it is guarded again."),
]
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
RETURNED = AlarmStatus.RETURNED_UNACKNOWLEDGED
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
    places = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    places.command("list")(list_places)
    places.command("empty", epilog=_EMPTY_EXAMPLE)(empty)
    places.command("in-use")(in_use)
    places.command("aside", epilog=_ASIDE_EXAMPLE)(aside)
    places.callback()(place)
    app.add_typer(places, name="place")


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

    def over(self) -> dict[str, int | None]:
        """The alarms that are over and that nobody has acknowledged, each with the end of its excursion."""
        names = (name for name in self.site.plan.rules if self._status(name) is RETURNED)
        return {name: self._states[name].over_ms for name in names}

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
        self,
        chosen: Sequence[str],
        done: Sentence | None = None,
        until_ms: int | Mapping[str, int | None] | None = None,
    ) -> bool:
        """Ask the service and say what was done; that it waits for the service is said by `ask`.

        `until_ms` holds for all, or is by alarm: what came anew since its excursion ended stays unseen.
        """
        site, words, kind = self.site, self.site.words, self.decision.kind
        until = until_ms if isinstance(until_ms, Mapping) else dict.fromkeys(chosen, until_ms)
        commands = [
            Command(kind, site.now_ms, self._actor, name, until[name], self._reason) for name in chosen
        ]
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
def ack(
    options: DecisionOptions,
    alarm: MaybeAlarmArgument = "",
    every: EveryOption = False,
    over: OverOption = False,
) -> None:
    """Say that you know of an alarm and look after it: nobody else is told, nobody is reminded.

    The alarm itself stays until its value is right again.
    """
    if over and (alarm or every):
        raise UsageError("--over stands for all alarms that are over; give it without an alarm and --all")
    with working(options.config) as site:
        decided = Deciding(site, ACKNOWLEDGE, options)
        if over:
            ended = decided.over()
            if ended:
                decided.hand_over(list(ended), until_ms=ended)
            else:
                say(site.words.t("decide.none_over"))
            return
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


@dataclass(frozen=True, slots=True)
class SayingOptions:
    """What every command that says something of a place or a board is given."""

    by: WhoOption = ""
    note: NoteOption = ""
    config: ConfigOption = None


def place() -> None:
    """Places: which are guarded, which are empty, which are put aside for cleaning, and who said so."""


def list_places(config: ConfigOption = None) -> None:
    """Every place: guarded or not, who said so, when, and how to undo it."""
    with looking(config) as site:
        now = site_now(site.store, site.plan, site.now_ms)
        for known in sorted(now.places, key=lambda each: list(site.plan.places).index(each.id)):
            say_lines(list(guard_lines(known, site.words, width())))


@with_options
def empty(options: SayingOptions, names: PlacesArgument, sure: SureOption = False) -> None:
    """No animals are in a place: no alarm comes from it until somebody says that animals are in it."""
    with working(options.config) as site:
        known = [known_place(name, site) for name in names]
        now = {each.id: each for each in site_now(site.store, site.plan, site.now_ms).places}
        odd = [text for name in known for text in doubts(now[name], site.words)]
        if odd and not sure:
            _ask_about(odd, site)
        for name in known:
            say_of(site, name, PlaceEntryKind.EMPTY, options)


def _ask_about(odd: Sequence[str], site: SiteContext) -> None:
    """Ask whether a place is empty although it does not look so; UsageError where nobody can be asked."""
    if not at_terminal():
        raise UsageError(
            "{odd}\nNothing was written. If it is empty all the same, say so: --sure", odd="\n".join(odd)
        )
    for text in odd:
        complain(text, "warning")
    if not is_wanted(site.words.t("doubt.ask")):
        raise UsageError("nothing was written")


@with_options
def in_use(options: SayingOptions, names: PlacesArgument) -> None:
    """Animals are in a place: it is guarded, whatever was said before."""
    with working(options.config) as site:
        for name in [known_place(name, site) for name in names]:
            say_of(site, name, PlaceEntryKind.IN_USE, options)


@with_options
def aside(options: SayingOptions, names: PlacesArgument, length: AsideOption = "1 h") -> None:
    """Put a whole place aside while you clean it: no alarm comes from it. It ends by itself."""
    with working(options.config) as site:
        until_ms = site.now_ms + parse_length(length)
        for name in [known_place(name, site) for name in names]:
            say_of(site, name, PlaceEntryKind.ASIDE, options, until_ms)


def say_of(
    site: SiteContext,
    name: str,
    kind: PlaceEntryKind | NodeEntryKind,
    options: SayingOptions,
    until_ms: int | None = None,
) -> None:
    writer = EntryWriter(site.store, site.plan, person(options.by), site.now_ms)
    written = writer.write(name, kind, site.now_ms, {"note": options.note, "until_ms": until_ms})
    line = noted_text(written, site.words, site.plan.title)
    say(written_text(written, line, site.words, site.plan.title), "good")
