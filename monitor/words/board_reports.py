"""What a board says of itself, in words: facts with their age, and what somebody has to mend."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.farm.records import ReportNow
from monitor.records import MS_PER_SECOND
from monitor.words.localizer import Localizer

BYTES_PER_KB = 1000


def facts(now: ReportNow, words: Localizer) -> list[str]:
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


def faults(now: ReportNow, words: Localizer) -> Iterator[str]:
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
