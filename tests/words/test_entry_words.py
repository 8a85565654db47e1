"""What an entry of the logbook says, in both languages, on the page as on the command line."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from monitor.development.events import Event
from monitor.errors import UsageError
from monitor.logbook.entry import WITHDRAWN
from monitor.records import LogbookEntry, Stage, SubjectKind
from monitor.words.entries import entry_line, entry_text, logged_line, written_text
from monitor.words.localizer import DisplayPreferences, Localizer

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
