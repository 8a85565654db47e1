"""What an entry of the logbook says, in both languages, on the page as on the command line."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from monitor.development.events import Event
from monitor.errors import UsageError
from monitor.logbook.entry import WITHDRAWN
from monitor.records import LogbookEntry, Stage, SubjectKind
from monitor.words.entries import entry_line, entry_text, logged_line, written_text
from monitor.words.localizer import DisplayPreferences, Localizer, month_first

NOW_MS = 1_790_000_000_000


def words(language: str = "en") -> Localizer:
    return Localizer(DisplayPreferences(language), ZoneInfo("Africa/Gaborone"), NOW_MS)


def title(place: str) -> str:
    return {"bin-1": "Bin 1", "tray-1": "Tray 1", "cage-1": "Cage 1"}.get(place, place)


def about_bin(kind: str, corrects: int | None = None, **body: object) -> LogbookEntry:
    return LogbookEntry(SubjectKind.BIN, "bin-1", kind, NOW_MS, NOW_MS, "Ana", body, corrects, 7)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("entry", "english", "french"),
    [
        (
            about_bin("fill", kg=10.4, moisture=0.7, larvae=5000, age_days=7, cohort="eggs-1"),
            "filled with 10.4 kg at 70 %, 5000 larvae, of eggs-1, 7 days old",
            "rempli de 10,4 kg à 70 %, 5000 larves, de eggs-1, âge 7 jours",
        ),
        (
            about_bin("water", kg=1.0, back_to_kg=10.5),
            "1 litre of water, back to 10.5 kg",
            "1 litre d’eau, ramené à 10,5 kg",
        ),
        (about_bin("fan", on=True), "fan on", "ventilateur en marche"),
        (about_bin("fan", on=False), "fan off", "ventilateur arrêté"),
        (about_bin("cover", cover="open"), "opened", "ouvert"),
        (about_bin("test", moisture=0.68, rough=True), "moisture by hand: 68 %", "humidité à la main : 68 %"),
        (
            about_bin("start", stage="egg", place="tray-1", grams=5, cage="cage-1"),
            "began as eggs in Tray 1, 5 g, flies into Cage 1",
            "commencé (œufs) : Tray 1, 5 g, mouches vers Cage 1",
        ),
        (about_bin("water", kg="much"), "much of water", "much d’eau"),
        (about_bin("painted"), "painted", "painted"),
    ],
)
def test_an_entry_says_the_same_in_both_languages(entry: LogbookEntry, english: str, french: str) -> None:
    assert plain(entry_text(entry, words(), title)) == english
    assert plain(entry_text(entry, words("fr"), title)) == french


def test_a_line_has_time_note_and_who_wrote_it() -> None:
    entry = about_bin("stir", note="crusted")
    assert entry_line(entry, words(), title) == "Mon 21 Sep 16:13  stirred (crusted)"
    assert logged_line(entry, None, words(), title) == "Mon 21 Sep 16:13  stirred (crusted), by Ana"
    newer = about_bin("stir", corrects=7)
    assert logged_line(entry, newer, words(), title).endswith("[corrected by entry 7]")
    assert logged_line(newer, None, words(), title).endswith("[in place of entry 7]")


def test_stages_and_events_in_a_refusal_have_their_names() -> None:
    refusal = UsageError(
        "it began as {stage}, so {event} cannot be seen of it", stage=Stage.PUPA, event=Event.HATCH
    )
    assert str(refusal) == "it began as pupa, so hatch cannot be seen of it"
    assert words().error(refusal) == "it began as pupae, so hatching cannot be seen of it"
    assert words("fr").error(refusal).startswith("il a commencé comme pupes")


def test_what_was_just_written_is_said_with_its_number() -> None:
    assert written_text(about_bin("stir"), "stirred", words(), title) == "Written as entry 7, Bin 1: stirred."
    withdrawal = about_bin(WITHDRAWN, corrects=3)
    assert "Bin 1: entry 3 does not count any more" in written_text(withdrawal, "", words(), title)


DAY_MS = 86_400_000


@pytest.mark.parametrize(
    ("days_ago", "english", "french"),
    [
        (0, "Monday 21 September, 16:13, now", "lundi 21 septembre, 16:13, maintenant"),
        (0.25, "Monday 21 September, 10:13, 6 h ago", "lundi 21 septembre, 10:13, il y a 6 h"),
        (13, "Tuesday 8 September, 16:13, 13 days ago", "mardi 8 septembre, 16:13, il y a 13 jours"),
        (49, "Monday 3 August, 16:13, 7 weeks ago", "lundi 3 août, 16:13, il y a 7 semaines"),
        (400, "Sunday 17 August 2025, 16:13, 1 year ago", "dimanche 17 août 2025, 16:13, il y a 1 an"),
        (-7, "Monday 28 September, 16:13, in 7 days", "lundi 28 septembre, 16:13, dans 7 jours"),
    ],
)
def test_a_moment_is_said_back_in_full(days_ago: float, english: str, french: str) -> None:
    at_ms = NOW_MS - round(days_ago * DAY_MS)
    assert plain(words().said_back(at_ms)) == english
    assert plain(words("fr").said_back(at_ms)) == french


@pytest.mark.parametrize(
    ("language", "zone", "first"),
    [
        ("en", "America/New_York", True),
        ("en", "US/Eastern", True),
        ("en", "Pacific/Honolulu", True),
        ("fr", "America/New_York", False),
        ("en", "Africa/Gaborone", False),
        ("en", "Europe/London", False),
        ("fr", "Africa/Ouagadougou", False),
        ("en", "Africa/Ouagadougou", False),
        ("en", "America/Toronto", False),
        ("en", "UTC", False),
        ("en", "Etc/UTC", False),
    ],
)
def test_the_month_stands_first_only_where_people_write_it_first(
    language: str, zone: str, first: bool
) -> None:
    assert month_first(language, ZoneInfo(zone)) is first
