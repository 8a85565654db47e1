"""`now`, `night`, `nodes`, `alarms`: what is so, what was, and what needs a person. They change nothing."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import typer
from rich.table import Table

from monitor.alarms.health import health
from monitor.cli.context import SiteContext, looking, say_lines
from monitor.cli.json_records import (
    alarm_json,
    health_json,
    night_json,
    nodes_json,
    now_json,
    transition_json,
    unknown_toml,
)
from monitor.cli.options import ConfigOption, JsonOption, QuietOption
from monitor.cli.output import ExitCode, complain, console, say, say_json, width
from monitor.errors import UsageError
from monitor.farm.night import last_night, night_of, summarise
from monitor.farm.places import current_values, node_rows, open_alarms, site_now
from monitor.farm.records import ActiveAlarm, NodeRow
from monitor.records import MS_PER_DAY, AlarmState, Quantity, local
from monitor.words.alarms import every_line, health_lines, journal_lines, open_lines
from monitor.words.boards import (
    ArchiveNow,
    archive_lines,
    calibration_age,
    faults,
    heard,
    is_unknown,
    nameless_lines,
    node_lines,
    sign,
    unknown_lines,
)
from monitor.words.night import night_text
from monitor.words.phrases import length_of_time, measured
from monitor.words.places import now_lines, verdict

WIDE_ENOUGH_FOR_A_TABLE = 120
JOURNAL_DAYS, HEALTH_DAYS = 7.0, 30.0

DateOption = Annotated[
    str,
    typer.Option(
        "--date",
        metavar="YYYY-MM-DD",
        help="The morning on which the night ended. Without it: the last night.",
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
    stands, nothing is known of a place, or the monitor itself does not run.

    Signs: ▲ high, ◆ medium, ● low, ? unknown, ○ fine, – empty.
    """
    with looking(config) as look:
        site = site_now(look.store, look.plan, look.now_ms)
    if as_json:
        say_json(now_json(site, look.numbers, look.zone))
    elif quiet:
        if site.wrong:
            complain(verdict(site))
    else:
        for line in now_lines(site, look.zone, width()):
            say(line.text, line.style)
    if site.wrong:
        raise typer.Exit(ExitCode.SOMETHING_WRONG)


def night(
    config: ConfigOption = None,
    morning: DateOption = "",
    as_json: JsonOption = False,
) -> None:
    """Show the report of a night: lowest and highest values, alarms, gaps, boards to look after."""
    with looking(config) as look:
        span = night_of(look.plan, _date(morning, look)) if morning else last_night(look.plan, look.now_ms)
        if span.start_ms > look.now_ms:
            raise UsageError(f"the night to {span.date} has not begun yet; allowed: a date up to tomorrow")
        summary = summarise(look.store, look.plan, span, look.now_ms)
    text = night_text(summary, look.zone)
    if as_json:
        say_json(night_json(summary, text, look.numbers, look.zone))
        return
    say(text.rstrip())
    if span.end_ms > look.now_ms:
        say("\nThis night is not over yet; the report goes as far as now.", "quiet")


def _date(written: str, look: SiteContext) -> date:
    try:
        return date.fromisoformat(written)
    except ValueError:
        example = local(look.now_ms, look.zone).date().isoformat()
        raise UsageError(f"--date is {written!r}; allowed: a date such as {example}") from None


def nodes(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show each board: last heard, battery, faults, missing messages, calibration.

    Boards that were heard but stand in no table of the settings come last, with
    the lines to add.
    """
    with looking(config) as look:
        rows = node_rows(look.store, look.plan, look.now_ms)
        sensors = look.store.readings.sensors()
        calibrated_ms = _calibrated_ms(look)
        archive, nameless = _archive(look), look.store.nodes.without_name()
    if as_json:
        toml = unknown_toml(rows, sensors, look.plan)
        say_json(nodes_json(rows, look.plan, calibrated_ms, toml, archive, look.zone))
        return
    if console().is_terminal and console().width >= WIDE_ENOUGH_FOR_A_TABLE:
        console().print(_table(rows, look, calibrated_ms))
    else:
        say_lines(node_lines(rows, look.plan, calibrated_ms, look.now_ms, look.zone, width()))
    say_lines(unknown_lines(rows, sensors, look.plan, look.now_ms, look.zone, width()))
    say_lines(nameless_lines(nameless, look.now_ms, look.zone, width()))
    if archive is not None:
        say_lines(["", *archive_lines(archive, look.now_ms, width())])


def _calibrated_ms(look: SiteContext) -> dict[str, int]:
    """When the newest calibration of each board began to hold."""
    found: dict[str, int] = {}
    for one in look.store.calibrations.every():
        if one.valid_from_ms <= look.now_ms:
            found[one.sensor.node] = max(one.valid_from_ms, found.get(one.sensor.node, 0))
    return found


def _archive(look: SiteContext) -> ArchiveNow | None:
    if look.plan.settings.archive is None:
        return None
    status = look.store.archive_queue.status()
    return ArchiveNow(status.waiting, status.oldest_waiting_ms, status.parked, status.last_error)


def _table(rows: tuple[NodeRow, ...], look: SiteContext, calibrated_ms: dict[str, int]) -> Table:
    table = Table(box=None, pad_edge=False)
    for title in ("", "board", "place", "heard", "battery", "messages", "missing", "calibration", "faults"):
        table.add_column(title)
    for row in rows:
        if not is_unknown(row, look.plan):
            battery = "" if row.battery_v is None else measured(Quantity.BATTERY, row.battery_v)
            table.add_row(
                sign(row, look.plan),
                row.facts.node,
                row.place or "none",
                heard(row, look.plan, look.now_ms, look.zone),
                battery,
                str(row.facts.messages),
                str(row.facts.missing),
                calibration_age(row.facts.node, calibrated_ms, look.now_ms),
                "; ".join(faults(row, look.plan)),
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
    with looking(config) as look:
        if journal:
            _show_journal(look, days or JOURNAL_DAYS, as_json)
        elif measures:
            _show_health(look, days or HEALTH_DAYS, as_json)
        elif show_all:
            _show_every(look, as_json)
        else:
            _show_open(look, as_json)


def _show_open(look: SiteContext, as_json: bool) -> None:
    values = current_values(look.store, look.plan, look.now_ms)
    found = open_alarms(look.store.journal.states(), look.plan, values.of)
    if as_json:
        say_json({"alarms": [alarm_json(alarm, look.numbers, look.zone) for alarm in found]})
    else:
        say_lines(open_lines(found, look.numbers, look.words, width()))


def _show_every(look: SiteContext, as_json: bool) -> None:
    states = look.store.journal.states()
    if not as_json:
        say_lines(every_line(look.plan, states, look.numbers, look.words, width()))
        return
    values = current_values(look.store, look.plan, look.now_ms)
    told = [
        ActiveAlarm(rule, states.get(name) or AlarmState(name), look.plan.title(rule.place), values.of(rule))
        for name, rule in look.plan.rules.items()
    ]
    say_json({"alarms": [alarm_json(alarm, look.numbers, look.zone) for alarm in told]})


def _show_journal(look: SiteContext, days: float, as_json: bool) -> None:
    rows = look.store.journal.transitions(look.now_ms - round(days * MS_PER_DAY), look.now_ms + 1)
    if as_json:
        say_json({"journal": [transition_json(row, look.zone) for row in rows]})
    else:
        say_lines(journal_lines(rows, look.plan, look.words, width()))


def _show_health(look: SiteContext, days: float, as_json: bool) -> None:
    """Over the days asked for, or since the monitor was first started where that is less."""
    start_ms = look.now_ms - round(days * MS_PER_DAY)
    first_ms = int(look.store.meta.get("first_started_ms") or start_ms)
    start_ms = min(max(start_ms, first_ms), look.now_ms - 1)
    # A row is filed under its time of measurement, which can lie days before its time of processing.
    rows = look.store.journal.transitions(start_ms - 8 * MS_PER_DAY, look.now_ms + 1)
    intervals = {
        name: max((node.interval_s for node in look.plan.nodes_in(rule.place)), default=60.0)
        for name, rule in look.plan.rules.items()
    }
    found = health(rows, start_ms, look.now_ms, intervals)
    if as_json:
        say_json(health_json(found))
    else:
        say_lines(health_lines(found, look.plan, look.words, width()))
        say(f"  looked at: the last {length_of_time(look.now_ms - start_ms)}", "quiet")
