"""How the archive is, in words: never "up to date" beside trouble, and what reading back has shown."""

from __future__ import annotations

from datetime import UTC

import pytest

from monitor.errors import sentence
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE
from monitor.words.boards import ArchiveNow, archive_lines
from monitor.words.localizer import Localizer

NOW_MS = 1_770_000_000_000 // MS_PER_HOUR * MS_PER_HOUR


def said(archive: ArchiveNow, language: str = "en") -> str:
    return " ".join(" ".join(archive_lines(archive, Localizer.plain(language, UTC, NOW_MS), 200)).split())


def test_what_is_gathered_for_some_seconds_is_no_lag() -> None:
    assert said(ArchiveNow(4, NOW_MS - MS_PER_MINUTE + 1, 0)) == "Archive: up to date"
    assert said(ArchiveNow(4, NOW_MS - MS_PER_MINUTE, 0)) == (
        "Archive: 4 readings wait; the oldest for 1 min"
    )


def test_trouble_is_never_up_to_date() -> None:
    wrong = sentence("the archive server does not know the token; give a valid one in [archive] token")
    assert said(ArchiveNow(0, None, 0, wrong)).startswith("Archive: last trouble: the archive server")
    assert said(ArchiveNow(1, NOW_MS, 0, wrong)).startswith("Archive: 1 reading waits; the oldest for ")


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en", "25 readings are not there although the server took them twice, the oldest of "),
        (
            "fr",
            "25 mesures n’y sont pas bien que le serveur les ait acceptées deux fois, la plus ancienne de ",
        ),
        ("sw", "vipimo 25 havipo ingawa seva ilivipokea mara mbili, cha zamani zaidi ni cha "),
    ],
)
def test_what_reading_back_has_shown(language: str, told: str) -> None:
    archive = ArchiveNow(
        *(0, None, 0, None),
        compared_ms=NOW_MS - MS_PER_HOUR,
        begins_ms=NOW_MS - 9 * MS_PER_HOUR,
        filled=7,
        missing=25,
        missing_from_ms=NOW_MS - 5 * MS_PER_HOUR,
    )
    text = said(archive, language)
    assert told in text and "7" in text


def test_an_archive_that_cannot_be_read_proves_nothing() -> None:
    unread = ArchiveNow(0, None, 0, None, NOW_MS, unreadable=sentence("the archive server does not answer"))
    assert said(unread) == (
        "Archive: up to date; it cannot be read back, so nothing proves what it holds: the archive server "
        "does not answer"
    )
