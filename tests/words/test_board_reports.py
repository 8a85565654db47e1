"""What a board says of itself, as a person reads it on the command line, the page and in the report."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

import pytest

from monitor.board_records import BoardReport, StoredReport
from monitor.farm.places import LATELY_MS, REPORT_HOLDS_MS, never_heard, report_now
from monitor.farm.records import NodeRow, ReportNow
from monitor.words import boards
from monitor.words.localizer import Localizer

NOW_MS = 1_790_000_000_000
MINUTE = 60_000
REPORT = BoardReport(
    "node-1",
    NOW_MS - 20 * MINUTE,
    "0.1.0",
    7,
    chip="esp32",
    reset="power",
    clock="monitor",
    uptime_s=7200,
    waiting=0,
    lost=0,
    damaged=0,
    rssi_dbm=-61,
    heap_bytes=41_000,
    settings="00c0ffee",
)
WORDS = {language: Localizer.plain(language, UTC, NOW_MS) for language in ("en", "fr")}


def now(report: BoardReport = REPORT, silent: bool = False, program: str = "", **stored: object) -> ReportNow:
    return report_now(StoredReport(report, **stored), silent, program, NOW_MS)  # type: ignore[arg-type]


def said(found: ReportNow, language: str = "en") -> list[str]:
    return list(boards.report_faults(found, WORDS[language]))


def test_a_board_that_is_well() -> None:
    found = now(published="00c0ffee")
    assert boards.report_facts(found, WORDS["en"]) == [
        "reported 13:53 (20 min ago)",
        "program 0.1.0 on esp32",
        "had then run for 2 h",
        "began when power came",
        "time from the monitor",
        "signal good (-61 dBm)",
        "41 kB of memory free",
        "the settings are in force",
    ]
    assert said(found) == [] and not found.needs_care


def test_probes_are_shown_with_the_codes_by_which_the_settings_name_them() -> None:
    found = now(replace(REPORT, probes={"28ff641dc11603bf": "p2", "28ff641dc1160301": "p1"}))
    facts = boards.report_facts(found, WORDS["en"])
    assert "probes p1 28ff641dc1160301, p2 28ff641dc11603bf" in facts


def test_a_report_with_nothing_in_it_says_little() -> None:
    found = now(BoardReport("node-1", NOW_MS, "9", 1, kept=True, reset="new_kind"))
    assert boards.report_facts(found, WORDS["en"])[1:] == ["program 9"]
    assert not found.needs_care


TROUBLES = [
    (replace(REPORT, faults={"sht4x@45": "no_answer"}), {}, "sht4x@45 does not answer"),
    (replace(REPORT, faults={"moisture": "rail"}), {}, "end of its scale"),
    (
        replace(REPORT, faults={"28ff": "power_on_value"}, probes={"28ff": "p7"}),
        {},
        "Its sensor p7 says only",
    ),
    (replace(REPORT, faults={"p1": "new_code"}), {}, "has a fault (new_code)"),
    (replace(REPORT, lost=5), {"lost_grew_ms": NOW_MS - LATELY_MS}, "has lost 5 messages"),
    (replace(REPORT, damaged=60), {"damaged_grew_ms": NOW_MS}, "60 bytes of its memory"),
    (replace(REPORT, reset="watchdog"), {"bad_reset_ms": NOW_MS}, "hung and began anew"),
    (replace(REPORT, reset="brownout"), {"bad_reset_ms": NOW_MS}, "supply broke in"),
    (replace(REPORT, reset="power"), {"bad_reset_ms": NOW_MS}, "against its will"),
    (replace(REPORT, rssi_dbm=-71), {}, "hears the network weakly"),
    (replace(REPORT, rssi_dbm=-81), {}, "too weakly"),
    (replace(REPORT, version="0.0.9"), {"program": "0.1.0"}, "Its program is 0.0.9; 0.1.0 comes"),
    (replace(REPORT, refused="interval_s must be more"), {}, "refuses its settings: interval_s must be more"),
]


@pytest.mark.parametrize(("report", "more", "text"), TROUBLES)
def test_what_needs_a_hand_is_said_in_both_languages(
    report: BoardReport, more: dict[str, object], text: str
) -> None:
    found = now(report, **more)  # type: ignore[arg-type]
    assert found.needs_care
    (fault,) = said(found)
    assert text in fault
    (french,) = said(found, "fr")
    assert french != fault and "board_report" not in french
    row = NodeRow(never_heard("node-1"), "Bin 1", True, False, None, report=found)
    assert row.needs_care and fault in boards.faults(row, WORDS["en"])


def test_what_is_over_or_gone_needs_nobody() -> None:
    late = LATELY_MS + 1
    assert not now(
        lost_grew_ms=NOW_MS - late, damaged_grew_ms=NOW_MS - late, bad_reset_ms=NOW_MS - late
    ).needs_care
    broken = replace(REPORT, faults={"sht4x": "crc"})
    assert now(broken).needs_care
    for gone in (now(broken, silent=True), now(replace(broken, received_ms=NOW_MS - REPORT_HOLDS_MS - 1))):
        assert not gone.needs_care and said(gone) == []
        assert boards.report_facts(gone, WORDS["en"])[0].startswith("reported"), (
            "its age is said all the same"
        )


def test_limits_of_the_signal() -> None:
    found = {dbm: now(replace(REPORT, rssi_dbm=dbm)).signal for dbm in (-70, -71, -80, -81)}
    assert [str(each) for each in found.values()] == ["good", "weak", "weak", "too_weak"]
