"""Boards in words: last heard, battery, faults, what a board says of itself, lines that place a new one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.errors import Sentence, said_of
from monitor.farm.records import ActiveAlarm, NodeRow, ReportNow
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, MS_PER_SECOND, Computed, NodeFacts, Quantity, SensorKey
from monitor.settings.plan import Plan
from monitor.words.alarms import condition
from monitor.words.guard import board_aside
from monitor.words.localizer import Localizer, capitalised, entry

if TYPE_CHECKING:
    from monitor.farm.night_records import BoardCare

CALIBRATE_AFTER_DAYS = 365
BYTES_PER_KB = 1000
GATHERED_MS = MS_PER_MINUTE
"""Readings are gathered for some seconds before they go to the archive: so many that wait are no lag."""
_INDENT = 4
_SIGNS = {"out_of_service": "–", "unknown": "?", "fine": "○"}


@dataclass(frozen=True, slots=True)
class ArchiveNow:
    """How far the archive is behind, and what is wrong; None while all is well.

    What was read back: all readings before `compared_ms` were compared with it; it holds nothing before
    `begins_ms`; so many were not there and sent again; so many, from `missing_from_ms` on, are still not
    there.
    """

    waiting: int
    oldest_waiting_ms: int | None
    refused: int
    trouble: Sentence | None = None
    compared_ms: int | None = None
    begins_ms: int | None = None
    filled: int = 0
    missing: int = 0
    missing_from_ms: int | None = None
    unreadable: Sentence | None = None

    @property
    def last_error(self) -> str:
        """What is wrong, in English; empty while all is well."""
        return "" if self.trouble is None else self.trouble.text


def shape(row: NodeRow) -> str:
    """The state of a board: out_of_service, unknown (silent) or fine."""
    if row.out_of_service:
        return "out_of_service"
    return "unknown" if row.silent or not row.known else "fine"


def state(row: NodeRow, words: Localizer) -> str:
    """The same in a word; one that was never heard is not called silent."""
    waited_for = row.silent and not row.heard and not row.out_of_service
    return words.t("board.unheard" if waited_for else f"board.{shape(row)}")


def sign(row: NodeRow) -> str:
    """A shape that tells the state without colour."""
    return _SIGNS[shape(row)]


def where(row: NodeRow, words: Localizer) -> str:
    """Its place, and whether it sends."""
    said = state(row, words) if row.known else words.t("board.new")
    return f"{row.place or words.t('nodes.no_place')} · {said}"


def heard(row: NodeRow, words: Localizer) -> str:
    """When it was last heard."""
    return (
        words.t("nodes.heard", at=words.ago(row.facts.last_heard_ms)) if row.heard else words.t("nodes.never")
    )


def battery(row: NodeRow, words: Localizer) -> str:
    """The voltage of its battery, "" where that is not known."""
    if row.battery_v is None:
        return ""
    return words.t("nodes.battery", value=words.value(Quantity.BATTERY, row.battery_v))


def calibration(row: NodeRow, words: Localizer) -> str:
    """How old its newest calibration is, and whether it is due."""
    if row.calibrated_ms is None:
        return words.t("nodes.not_calibrated")
    days = (words.now_ms - row.calibrated_ms) // MS_PER_DAY
    if days == 0:
        return words.t("nodes.calibrated_today")
    key = "nodes.calibration_due" if days >= CALIBRATE_AFTER_DAYS else "nodes.calibrated"
    return words.t(key, days=words.n("length.days", days))


def facts(row: NodeRow, words: Localizer) -> list[str]:
    """What is known of a board: last heard, battery, messages, calibration."""
    # Of a board that was never heard its state says so already.
    known = [heard(row, words) if row.heard or not row.known else "", battery(row, words)]
    if row.heard:
        known.append(words.n("nodes.messages", row.facts.messages))
    if row.heard and row.known:
        known.append(calibration(row, words))
    return [fact for fact in known if fact]


def brief(row: NodeRow, words: Localizer) -> list[str]:
    """The same in short: the time, battery, calibration."""
    at = words.clock(row.facts.last_heard_ms) if row.heard else heard(row, words)
    parts = (at, battery(row, words), calibration(row, words) if row.heard else "")
    return [part for part in parts if part]


def faults(row: NodeRow, words: Localizer, *, undo: bool = True) -> Iterator[str]:
    """What a person should know or mend, as sentences; without `undo` no command is named, for the page."""
    known = row.facts
    if row.aside is not None:
        yield board_aside(known.node, row.aside, words, undo=undo)
    if row.known and not row.placed:
        yield words.t("nodes.guards_nothing")
    if row.battery_is_low:
        yield words.t("nodes.battery_low", limit=words.value(Quantity.BATTERY, row.battery_low_v))
    if known.clock_fault:
        yield words.t("nodes.clock", fault=words.sentence(said_of(known.clock_fault)))
    if row.report is not None:
        yield from report_faults(row.report, words)
    yield from _messages(row, words)


def _messages(row: NodeRow, words: Localizer) -> Iterator[str]:
    """What is wrong with the numbers and messages of a board."""
    known = row.facts
    if row.boot_stands:
        yield words.t("nodes.boot_stands")
    if known.boots_are_wakes:
        yield words.t("nodes.boots_are_wakes")
    if known.missing:
        yield words.n("nodes.missing", known.missing)
    if known.conflicts:
        yield words.n("nodes.conflicts", known.conflicts)
    if known.rejected:
        yield words.n("nodes.rejected", known.rejected, why=words.sentence(said_of(known.last_reject_reason)))


def reasons(care: BoardCare, words: Localizer) -> Iterator[str]:
    """Why somebody should look after a board, as sentences."""
    row = care.row
    if row.silent and not row.out_of_service:
        length = words.length(words.now_ms - row.facts.last_heard_ms)
        yield words.t("nodes.silent_for", length=length) if row.heard else words.t("nodes.never_heard")
    if not row.known:
        yield words.t("nodes.not_in_settings")
    yield from faults(row, words)
    for doubtful in care.doubtful:
        quantity, length = doubtful.sensor.quantity, words.length(doubtful.minutes * MS_PER_MINUTE)
        name = f"{doubtful.sensor.probe} {words.quantity_name(quantity)}".strip()
        yield words.t("nodes.doubtful", sensor=capitalised(name), length=length)


def node_lines(rows: Iterable[NodeRow], words: Localizer, width: int = 80) -> list[str]:
    """One entry for each board that the settings name, what is wrong with it below."""
    lines: list[str] = []
    for row in rows:
        if row.known:
            place = row.place or words.t("nodes.no_place")
            text = words.clauses([place, state(row, words), *facts(row, words)])
            lines += entry(f"{sign(row)} {_head(row, words)}", text, width, _INDENT)
            lines += _fault_lines(row, words, width)
    return lines or [words.t("nodes.none_named")]


def unknown_lines(
    rows: Iterable[NodeRow], sensors: Iterable[SensorKey], plan: Plan, words: Localizer, width: int = 80
) -> list[str]:
    """Boards that were heard and that the settings do not name, with the lines to add."""
    known_sensors = list(sensors)
    lines: list[str] = []
    for row in rows:
        if not row.known:
            text = words.t("nodes.new_line", facts=words.clauses(facts(row, words)))
            lines += ["", *entry(f"? {_head(row, words)}", text, width), ""]
            lines += [f"    {line}" for line in toml_lines(row.facts.node, known_sensors, plan, words)]
            lines += _fault_lines(row, words, width)
    return lines


def _head(row: NodeRow, words: Localizer) -> str:
    return words.t("nodes.head", node=row.facts.node) + " "


def report(row: NodeRow, words: Localizer) -> str:
    """What the board says of itself, in one line; "" where it says nothing."""
    return "" if row.report is None else words.clauses(report_facts(row.report, words))


def _fault_lines(row: NodeRow, words: Localizer, width: int) -> list[str]:
    said = report(row, words)
    lines = entry("    ", capitalised(said), width, _INDENT) if said else []
    return lines + [
        line for fault in faults(row, words) for line in entry("    - ", fault, width, _INDENT + 2)
    ]


def nameless_lines(refused: NodeFacts | None, words: Localizer, width: int = 80) -> list[str]:
    """Messages that were refused and belong to no board that can be named."""
    if refused is None or refused.last_reject_ms is None:
        return []
    text = words.n(
        "nodes.nameless",
        refused.rejected,
        at=words.ago(refused.last_reject_ms),
        why=words.sentence(said_of(refused.last_reject_reason)),
    )
    return ["", *entry("? ", text, width)]


def toml_lines(node: str, sensors: Iterable[SensorKey], plan: Plan, words: Localizer) -> list[str]:
    """The table for a board; its place is a choice that only a person can make."""
    measures = sorted(sensor.measure for sensor in sensors if sensor.node == node)
    places = ", ".join(plan.places) or words.t("nodes.no_places_yet")
    return [
        "[[nodes]]",
        f"id = {json.dumps(node)}",
        f'# place = "..."  # {words.t("nodes.place_line", places=places)}',
        f"measures = {json.dumps(measures)}",
    ]


def broker_fault(alarms: Iterable[ActiveAlarm], words: Localizer) -> tuple[str, ...]:
    """Why no board can be heard, and what to do, where the broker passes nothing on; else nothing."""
    for alarm in alarms:
        if alarm.rule.quantity == Computed.BROKER_WAY_FAULT and alarm.stands:
            what = condition(alarm.rule, alarm.value, words)
            return f"{what}.", f"{words.t('alarm.do')} {words.text(alarm.rule.response)}"
    return ()


def archive_lines(archive: ArchiveNow, words: Localizer, width: int = 80) -> list[str]:
    """How far the archive is behind."""
    parts = [] if archive.trouble is not None else [words.t("archive.up_to_date")]
    oldest_ms = archive.oldest_waiting_ms
    waited_ms = None if oldest_ms is None else words.now_ms - oldest_ms
    if archive.waiting and (archive.trouble is not None or waited_ms is None or waited_ms >= GATHERED_MS):
        parts = [words.n("archive.waiting", archive.waiting)]
        if waited_ms is not None:
            parts.append(words.t("archive.oldest", length=words.length(waited_ms)))
    if archive.refused:
        parts.append(words.n("archive.refused", archive.refused))
    if archive.trouble is not None:
        parts.append(words.t("archive.trouble", error=words.sentence(archive.trouble)))
    parts += _read_back(archive, words)
    return entry(words.t("archive.head") + " ", words.clauses(parts), width)


def _read_back(archive: ArchiveNow, words: Localizer) -> Iterator[str]:
    """What reading the archive back has shown."""
    if archive.missing and archive.missing_from_ms is not None:
        oldest = words.moment(archive.missing_from_ms)
        yield words.n("archive.missing", archive.missing, moment=oldest)
    if archive.filled:
        yield words.n("archive.filled", archive.filled)
    if archive.begins_ms is not None:
        yield words.t("archive.begins", moment=words.moment(archive.begins_ms))
    if archive.unreadable is not None:
        yield words.t("archive.unreadable", error=words.sentence(archive.unreadable))
    elif archive.compared_ms is not None:
        yield words.t("archive.compared", moment=words.moment(archive.compared_ms))


def report_facts(now: ReportNow, words: Localizer) -> list[str]:
    """The report in short, its age first."""
    report = now.report
    known = [_age(now, words), _program(now, words)]
    if report.uptime_s is not None:
        known.append(words.t("board_report.uptime", length=words.length(report.uptime_s * MS_PER_SECOND)))
    known += [_known(f"reset_{report.reset}", words), _known(f"clock_{report.clock}", words)]
    if now.signal is not None and report.rssi_dbm is not None:
        dbm = words.number(report.rssi_dbm)
        known.append(words.t(f"board_report.signal_{now.signal}", dbm=dbm))
    if report.heap_bytes is not None:
        known.append(words.t("board_report.heap", kb=words.number(report.heap_bytes / BYTES_PER_KB)))
    if report.probes:
        probes = [f"{name} {code}" for code, name in sorted(report.probes.items(), key=lambda pair: pair[1])]
        known.append(words.t("board_report.probes", probes=", ".join(probes)))
    for key in ("waiting", "lost", "damaged"):
        count = getattr(report, key)
        if count:
            known.append(words.n(f"board_report.{key}", count))
    if now.settings_in_force is not None and not report.refused:
        known.append(words.t(f"board_report.settings_{'in_force' if now.settings_in_force else 'other'}"))
    return [fact for fact in known if fact]


def _age(now: ReportNow, words: Localizer) -> str:
    key = "board_report.kept" if now.report.kept else "board_report.age"
    return words.t(key, at=words.ago(now.report.received_ms))


def _program(now: ReportNow, words: Localizer) -> str:
    report = now.report
    key = "board_report.program_on" if report.chip else "board_report.program"
    return words.t(key, version=report.version, chip=report.chip)


def _known(name: str, words: Localizer) -> str:
    """Words for a code of the board's program; a newer program may have others, which say nothing here."""
    key = f"board_report.{name}"
    return words.t(key) if words.has(key) else ""


def report_faults(now: ReportNow, words: Localizer) -> Iterator[str]:
    """What somebody has to mend, as sentences; nothing of a board that is gone."""
    if not now.is_current:
        return
    report = now.report
    for sensor, code in report.faults.items():
        key = f"board_report.fault_{code}"
        what = words.t(key) if words.has(key) else words.t("board_report.fault", code=code)
        # A probe is known by its name; its serial number is what the board falls back on.
        yield words.t("board_report.sensor", sensor=report.probes.get(sensor, sensor), what=what)
    if now.reset_lately and report.reset in ("watchdog", "brownout"):
        yield words.t(f"board_report.mend_{report.reset}")
    elif now.reset_lately:
        yield words.t("board_report.mend_reset")
    if now.lost_lately:
        yield words.n("board_report.mend_lost", report.lost or 0)
    if now.damaged_lately:
        yield words.n("board_report.mend_damaged", report.damaged or 0)
    if now.signal_is_weak and report.rssi_dbm is not None:
        yield words.t(f"board_report.mend_{now.signal}", dbm=words.number(report.rssi_dbm))
    if now.newer_program:
        yield words.t("board_report.mend_program", version=report.version, newer=now.newer_program)
    if report.refused:
        yield words.t("board_report.mend_refused", why=report.refused)
