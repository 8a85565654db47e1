"""The report of a Monday: last week's yield and what is to come, in message, page and command alike."""

from __future__ import annotations

import json
import re
from datetime import date, datetime
from html import unescape
from pathlib import Path

import pytest
from cohort_farm import ZONE, CohortFarm, make_farm
from yield_page import yield_page
from yield_year import ROUND_DAYS, year_farm

from monitor.farm.night import NightReader, night_of
from monitor.farm.night_records import NightReport
from monitor.records import LogbookEntry, SubjectKind
from monitor.store import Store
from monitor.words.localizer import Localizer
from monitor.words.night import report_text
from monitor.words.yields import turned_lines

MONDAY = date(2026, 9, 21)
HEADING = "LAST WEEK’S YIELD, AND WHAT IS TO COME"


def _ms(year: int, month: int, day: int, hour: int = 0) -> int:
    return round(datetime(year, month, day, hour, tzinfo=ZONE).timestamp() * 1000)


BREAKFAST_MS = _ms(2026, 9, 21, 8)


@pytest.fixture
def farm(tmp_path: Path) -> CohortFarm:
    return year_farm(tmp_path, 4 * ROUND_DAYS + 1)


def _report(farm: CohortFarm, morning: date = MONDAY, now_ms: int = BREAKFAST_MS) -> NightReport:
    with Store.read_only(farm.database) as store:
        plan = farm.plan()
        return NightReader(store, plan, night_of(plan, morning), now_ms).report()


def _words(now_ms: int = BREAKFAST_MS) -> Localizer:
    return Localizer.plain("en", ZONE, now_ms)


def test_a_monday_says_what_last_week_gave_and_what_comes(farm: CohortFarm) -> None:
    report = _report(farm)
    assert report.yields is not None
    assert (report.yields.last.start_ms, report.yields.last.end_ms) == (
        _ms(2026, 9, 14),
        _ms(2026, 9, 21),
    )
    assert report.yields.last.larvae.value == 2.0
    text = report_text(report, _words())
    assert HEADING in text
    assert "- Larvae harvested: 2 kg (for feed: 2 kg); the week before: –" in text
    assert "- Cage 1: Within seven days " in text and "- Bin 1: " in text


@pytest.mark.parametrize("morning", [date(2026, 9, 20), date(2026, 9, 22)])
def test_no_other_day_speaks_of_it(farm: CohortFarm, morning: date) -> None:
    report = _report(farm, morning, _ms(2026, 9, morning.day, 8))
    assert report.yields is None
    assert HEADING not in report_text(report, _words())


def test_before_monday_has_begun_the_week_is_not_over(farm: CohortFarm) -> None:
    assert _report(farm, MONDAY, _ms(2026, 9, 20, 23)).yields is None
    assert _report(farm, MONDAY, _ms(2026, 9, 21, 1)).yields is not None


def test_an_earlier_monday_says_what_was_known_then(farm: CohortFarm) -> None:
    late_ms, at_ms = _ms(2026, 9, 22, 6), _ms(2026, 9, 18, 8)
    body = {"grams": 100.0}
    with Store.open(farm.database, check=False) as store:
        store.logbook.add(
            LogbookEntry(SubjectKind.PLACE, "cage-1", "collect", at_ms, late_ms, "keeper", body)
        )
    told, then = _report(farm).yields, _report(farm, MONDAY, _ms(2026, 9, 22, 7)).yields
    assert told is not None and then is not None and then.ahead is None
    eggs = sum(4.0 + day % 3 + 3.0 for day in range(49, 56))
    assert then.last.eggs.value == eggs
    assert told.last.eggs.value == eggs + 100.0


def test_message_page_and_command_say_the_same(farm: CohortFarm, capsys: pytest.CaptureFixture[str]) -> None:
    report = _report(farm, MONDAY, _ms(2026, 9, 22, 7))
    assert report.yields is not None
    lines = turned_lines(report.yields, _words(_ms(2026, 9, 22, 7)))
    assert len(lines) > 4
    assert farm.ask("night", "--date", "2026-09-21") == 0
    out = capsys.readouterr().out
    assert [line for line in lines if f"- {line}\n" not in out] == []
    assert farm.ask("night", "--date", "2026-09-21", "--json") == 0
    assert json.loads(capsys.readouterr().out)["yields"]["lines"] == lines
    with yield_page(farm) as page:
        text = page.text("/night?date=2026-09-21")
        shown = " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())
        assert all(line in shown.replace("\u00a0", " ") for line in lines)
        assert "Last week’s yield" not in page.text("/night?date=2026-09-20")


def test_a_yield_that_fails_does_not_end_the_report(
    farm: CohortFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("monitor.farm.yields.yield_week", broken)
    text = report_text(_report(farm), _words())
    assert HEADING in text and "ZeroDivisionError" in text


def test_a_monday_says_how_many_prepupae_the_wanted_eggs_need(farm: CohortFarm) -> None:
    assert "prepupae each week" not in report_text(_report(farm), _words())
    settings = farm.folder / "farm.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[site]\n", "[site]\neggs_g_a_week = 50\n", 1), encoding="utf-8")
    report = _report(farm)
    assert report.yields is not None and report.yields.ahead is not None
    assert report.yields.ahead.keep is not None
    assert report.yields.last.kept.needed == report.yields.ahead.keep.safe
    said = report_text(report, _words())
    assert said.count("For 50 g of eggs a week keep ") == 1 and "Kept for breeding: " in said


def test_a_farm_without_a_logbook_says_nothing_of_it(tmp_path: Path) -> None:
    folder = tmp_path / "bare"
    folder.mkdir()
    assert _report(make_farm(folder)).yields is None
