"""How likely a bin is to be too dry, in words."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from monitor.bins.outlook import HoursTo
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.words.bins import chance, chance_sentence
from monitor.words.localizer import Localizer

NOON_MS = 20_000 * MS_PER_DAY + 12 * MS_PER_HOUR


def outlook_of(*hours: float) -> Any:
    spread = tuple(sorted(hours))
    ahead = HoursTo(spread[len(spread) // 2], spread[len(spread) // 10], spread)
    return SimpleNamespace(at_ms=NOON_MS, to_limit=ahead)


LIKELY = outlook_of(4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 20.0, 30.0, 40.0)
ALARMS = outlook_of(*range(4, 13), *range(20, 31))
PERHAPS = outlook_of(6.0, 11.0, 20.0, 21.0, 22.0, 23.0, 24.0, 25.0, 26.0, 27.0)


@pytest.mark.parametrize(
    ("language", "outlook", "said"),
    [
        ("en", LIKELY, "Likely (70 %) too dry by Sat 00:00."),
        ("en", PERHAPS, "May be too dry by Sat 00:00 (chance 20 %)."),
        ("en", ALARMS, "May be too dry by Sat 00:00 (chance 45 %)."),
        ("en", outlook_of(*range(12, 22)), "May be too dry by Sat 00:00 (chance 10 %)."),
        ("en", outlook_of(*range(13, 23)), ""),
        ("en", outlook_of(0.0, 0.0, 0.0), ""),
    ],
)
def test_the_chance_of_the_coming_half_day(language: str, outlook: Any, said: str) -> None:
    words = Localizer.plain(language, ZoneInfo("UTC"), NOON_MS)
    assert chance_sentence(outlook, words).replace("\xa0", " ").replace("\u202f", " ") == said


def test_french_says_it_too() -> None:
    words = Localizer.plain("fr", ZoneInfo("UTC"), NOON_MS)
    assert "trop sec d’ici" in chance_sentence(LIKELY, words)


def test_an_alarm_comes_before_it_is_as_likely_as_not() -> None:
    assert ALARMS.to_limit.likely_h < 12.0 < ALARMS.to_limit.median_h


def test_a_chance_is_never_none_and_never_all() -> None:
    words = Localizer.plain("en", ZoneInfo("UTC"), NOON_MS)
    assert [chance(words, share).strip(" %\xa0") for share in (0.0, 0.52, 1.0)] == ["5", "50", "95"]


def test_chances_by_hours() -> None:
    ahead = LIKELY.to_limit
    assert [ahead.chance_within(hours) for hours in (3.9, 4.0, 12.0, 40.0)] == [0.0, 0.1, 0.7, 1.0]
    assert ahead.likely_h == pytest.approx(7.6), "four in ten"
    bare = HoursTo(20.0, 10.0)
    assert [bare.chance_within(hours) for hours in (9.0, 10.0, 20.0)] == [0.0, 0.1, 0.5]
