"""`now`, `night`, `nodes`, `alarms`: what is so, what was, and what needs a person. They change nothing."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.errors import UsageError
from monitor.farm.places import SiteReader
from monitor.records import MS_PER_DAY, local
from monitor.terminal.context import ConfigOption, JsonOption, QuietOption, SiteContext, looking, say_lines
from monitor.terminal.output import ExitCode, complain, console, say, say_json, width
from monitor.words import boards
from monitor.words.alarm_health import health_lines
from monitor.words.alarms import every_line, journal_lines, open_lines
from monitor.words.localizer import entry
from monitor.words.places import now_lines, verdict

if TYPE_CHECKING:
    from rich.table import Table

    from monitor.farm.night import NightReader
    from monitor.farm.night_records import Span
    from monitor.farm.records import NodeRow
    from monitor.terminal.json_records import Json
    from monitor.words.localizer import Localizer

WIDE_ENOUGH_FOR_A_TABLE = 120
JOURNAL_DAYS, HEALTH_DAYS = 7.0, 30.0
COLUMNS = ("board", "place", "heard", "battery", "messages", "missing", "calibration", "faults")

DayOption = Annotated[
    bool, typer.Option("--day", help="The day so far instead, from the end of the last night on.")
]
DateOption = Annotated[
    str,
    typer.Option(
        "--date",
        metavar="YYYY-MM-DD",
        help="The morning on which the night ended. Without it: the running night, by day the last one.",
    ),
]
AllOption = Annotated[
    bool, typer.Option("--all", help="Every alarm that the settings make, with its number.")
]
JournalOption = Annotated[
    bool, typer.Option("--journal", help="What became of alarms: came, acknowledged, over.")
]
HealthOption = Annotated[
    bool, typer.Option("--health", help="Whether the alarms themselves are good: too many, too often.")
]
DaysOption = Annotated[
    float | None,
    typer.Option(
        min=0.01,
        max=3660,
        metavar="NUMBER",
        help=f"Days back, for --journal (else {JOURNAL_DAYS:g}) and --health (else {HEALTH_DAYS:g}).",
    ),
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("now", epilog=_NOW_EXAMPLES)(now)
    app.command("night", epilog=_NIGHT_EXAMPLES)(night)
    app.command("nodes")(nodes)
    app.command("alarms", epilog=_ALARMS_EXAMPLES)(alarms)


_NOW_EXAMPLES = "Example: [bold]rearing-monitor now --quiet || echo go and look[/bold]"
_NIGHT_EXAMPLES = "Example: [bold]rearing-monitor night --date 2026-11-25[/bold]"
_ALARMS_EXAMPLES = (
    "Examples: [bold]rearing-monitor alarms[/bold], [bold]rearing-monitor alarms --journal --days 2[/bold]"
)


def now(config: ConfigOption = None, as_json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Say whether anything is wrong now, place by place, the worst first.

    Ends with 0 when all is fine. Ends with 1 when something needs you: an alarm
    stands, a value is beyond a limit, nothing is known of a place, or the monitor
    itself does not run.

    Signs: ▲ high, ◆ medium, ● low, △ beyond a limit, ! not guarded,
    ? unknown, ○ fine, – empty.
    """
    with looking(config) as site:
        reader = SiteReader(site.store, site.plan, site.now_ms)
        record = reader.site()
        today = None if quiet else reader.today()
    if as_json:
        from monitor.terminal.json_records import now_json, today_json

        say_json(now_json(record, site.numbers, site.zone) | today_json(today, site.words))
    elif not quiet:
        for line in now_lines(record, site.words, width()):
            say(line.text, line.style)
        if today is not None and (today.left or today.done):
            from monitor.words.today import now_tasks

            for text in now_tasks(today, site.words, width()):
                say(text)
    elif record.wrong:
        complain(site.words.clauses(verdict(record, site.words)))
    if record.wrong:
        raise typer.Exit(ExitCode.SOMETHING_WRONG)


def night(
    config: ConfigOption = None,
    morning: DateOption = "",
    day: DayOption = False,
    as_json: JsonOption = False,
) -> None:
    """Show the report of a night: lowest and highest values, alarms, gaps, boards to look after."""
    from monitor.farm.night import NightReader, newest_night, night_of

    with looking(config) as site:
        if day:
            span = _day_so_far(morning, site)
        else:
            span = (
                night_of(site.plan, _date(morning, site)) if morning else newest_night(site.plan, site.now_ms)
            )
        if span.start_ms > site.now_ms:
            raise UsageError(
                "the night to {date} has not begun yet; allowed: a date up to tomorrow", date=span.date
            )
        reader = NightReader(site.store, site.plan, span, site.now_ms)
        report, week = reader.report(), _week(reader, span, site) if as_json else []
    if as_json:
        from monitor.terminal.json_records import night_json
        from monitor.terminal.yields_json import week_json

        yields = week_json(report.yields, site.words)
        say_json({**night_json(report, site.numbers, site.words), "week": week, "yields": yields})
        return
    from monitor.words.night import report_text

    say(report_text(report, site.words).rstrip())
    if span.end_ms > site.now_ms:
        say(f"\n{site.words.t('night.not_over')}", "quiet")


def _day_so_far(morning: str, site: SiteContext) -> Span:
    from monitor.farm.night import running_day

    if morning:
        raise UsageError("--day is the day that runs; give it without --date")
    span = running_day(site.plan, site.now_ms)
    if span is None:
        raise UsageError("no day runs now, it is night; `rearing-monitor night` shows the night so far")
    return span


def _week(reader: NightReader, span: Span, site: SiteContext) -> list[Json]:
    """The seven nights up to the one that is shown, as Night on the page marks them."""
    from monitor.farm.night import night_of
    from monitor.farm.night_alarms import week_of

    last = date.fromisoformat(span.date)
    nights = [night_of(site.plan, last - timedelta(days=back)) for back in range(7)]
    return [
        {
            "date": row.date,
            "known": row.known,
            "worst_alarm": row.worst,
            "marks": [{"mark": each.mark, "places": list(each.places)} for each in row.marks],
        }
        for row in week_of(site.store, site.plan, reader.sensors, nights, site.now_ms)
    ]


def _date(written: str, site: SiteContext) -> date:
    try:
        return date.fromisoformat(written)
    except ValueError:
        example = local(site.now_ms, site.zone).date().isoformat()
        raise UsageError(
            '--date is "{written}"; allowed: a date such as {example}', written=written, example=example
        ) from None


def nodes(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show each board: last heard, battery, faults, missing messages, calibration.

    Boards that were heard but stand in no table of the settings come last, with
    the lines to add.
    """
    with looking(config) as site:
        reader = SiteReader(site.store, site.plan, site.now_ms)
        rows, fault = reader.boards(), boards.broker_fault(reader.alarms(), site.words)
        sensors = site.store.readings.sensors()
        archive, nameless = _archive(site), site.store.nodes.without_name()
    words = site.words
    if as_json:
        from monitor.terminal.json_records import nodes_json, unknown_toml

        say_json(nodes_json(rows, unknown_toml(rows, sensors, site.plan, words), archive, words))
        return
    for text in fault:
        say_lines(entry("▲ ", text, width(), 4))
    if console().is_terminal and console().width >= WIDE_ENOUGH_FOR_A_TABLE:
        console().print(_table(rows, words))
    else:
        say_lines(boards.node_lines(rows, words, width()))
    say_lines(boards.unknown_lines(rows, sensors, site.plan, words, width()))
    say_lines(boards.nameless_lines(nameless, words, width()))
    if archive is not None:
        say_lines(["", *boards.archive_lines(archive, words, width())])


def _archive(site: SiteContext) -> boards.ArchiveNow | None:
    if site.plan.settings.archive is None:
        return None
    status = site.store.archive_queue.status()
    proof = status.proof
    return boards.ArchiveNow(
        *(status.waiting, status.oldest_waiting_ms, status.parked, status.trouble),
        *(proof.checked_ms, proof.begins_ms, proof.filled),
        *(proof.missing, proof.missing_from_ms, proof.unreadable),
    )


def _table(rows: tuple[NodeRow, ...], words: Localizer) -> Table:
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    table.add_column("")
    for name in COLUMNS:
        table.add_column(words.t(f"nodes.column_{name}"))
    for row in rows:
        if row.known:
            table.add_row(
                boards.sign(row),
                row.facts.node,
                row.place or words.t("nodes.no_place"),
                f"{words.t(f'board.{boards.shape(row)}')}, {boards.heard(row, words)}",
                boards.battery(row, words),
                str(row.facts.messages),
                str(row.facts.missing),
                boards.calibration(row, words),
                "\n".join(filter(None, (" ".join(boards.faults(row, words)), boards.report(row, words)))),
            )
    return table


def alarms(
    config: ConfigOption = None,
    show_all: AllOption = False,
    journal: JournalOption = False,
    measures: HealthOption = False,
    days: DaysOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show the alarms that are active, shelved or out of service, with what to do and what to beware of.

    The number in front of an alarm is its short name for `ack`, `shelve` and
    the like.
    """
    if show_all + journal + measures > 1:
        raise UsageError("allowed: one of --all, --journal and --health at a time")
    with looking(config) as site:
        if journal:
            _show_journal(site, days or JOURNAL_DAYS, as_json)
        elif measures:
            _show_health(site, days or HEALTH_DAYS, as_json)
        else:
            _show_alarms(site, as_json, show_all)


def _show_alarms(site: SiteContext, as_json: bool, every: bool) -> None:
    """The open alarms, or every alarm that the settings make."""
    reader, words = SiteReader(site.store, site.plan, site.now_ms), site.words
    if as_json:
        from monitor.terminal.json_records import alarm_json

        alarms = reader.every_alarm() if every else reader.alarms()
        say_json({"alarms": [alarm_json(alarm, site.numbers, site.zone) for alarm in alarms]})
    elif every:
        say_lines(every_line(site.plan, site.store.journal.states(), site.numbers, words, width()))
    else:
        say_lines(open_lines(reader.alarms(), site.numbers, words, width()))


def _show_journal(site: SiteContext, days: float, as_json: bool) -> None:
    rows = site.store.journal.transitions(site.now_ms - round(days * MS_PER_DAY), site.now_ms + 1)
    if as_json:
        from monitor.terminal.json_records import transition_json

        say_json({"journal": [transition_json(row, site.zone) for row in rows]})
    else:
        say_lines(journal_lines(rows, site.plan, site.words, width()))


def _show_health(site: SiteContext, days: float, as_json: bool) -> None:
    """Over the days asked for, or since the monitor was first started where that is less."""
    start_ms = site.now_ms - round(days * MS_PER_DAY)
    first_ms = int(site.store.meta.get("first_started_ms") or start_ms)
    start_ms = min(max(start_ms, first_ms), site.now_ms - 1)
    # A row is filed under its time of measurement, which can lie days before its time of processing.
    rows = site.store.journal.transitions(start_ms - 8 * MS_PER_DAY, site.now_ms + 1)
    intervals = {
        name: max((node.interval_s for node in site.plan.nodes_in(rule.place)), default=60.0)
        for name, rule in site.plan.rules.items()
    }
    from monitor.alarms.health import health

    measures = health(rows, start_ms, site.now_ms, intervals)
    if as_json:
        from monitor.terminal.json_records import health_json

        say_json(health_json(measures))
    else:
        words = site.words
        say_lines(health_lines(measures, site.plan, words, width()))
        say(f"  {words.t('health.looked_at', length=words.length(site.now_ms - start_ms))}", "quiet")
