"""`photos`: how much room the photos of entries have, and room made by a person's own word."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from monitor.errors import UsageError
from monitor.store.photos import EntryPhoto
from monitor.terminal.context import ByOption, ConfigOption, SiteContext, person, working
from monitor.terminal.output import say

BeforeOption = Annotated[
    str,
    typer.Option(
        "--delete-before",
        metavar="TIME",
        help="Delete the photos of entries before then: 2026-05-01, 365 days ago. The entries stay.",
    ),
]
EntryOption = Annotated[
    list[int] | None,
    typer.Option("--delete", metavar="NUMBER", help="Delete the photo of this entry; once for each."),
]
_EXAMPLES = "Example: [bold]rearing-monitor photos --delete-before '365 days ago' --sure[/bold]"
SurePhotosOption = Annotated[
    bool, typer.Option("--sure", help="Delete them; without it they are only counted.")
]


def register(app: typer.Typer) -> None:
    """Put the command of this module where `app` will find it."""
    app.command("photos", epilog=_EXAMPLES)(photos)


def photos(
    delete_before: BeforeOption = "",
    delete: EntryOption = None,
    sure: SurePhotosOption = False,
    by: ByOption = "",
    config: ConfigOption = None,
) -> None:
    """How much room the photos of entries take; old ones can be deleted.

    None is deleted by itself. That an entry had one, and who deleted it when, stays
    written. Copies that were made before keep theirs.
    """
    with working(config) as site:
        if not delete_before and not delete:
            _say_room(site)
            return
        chosen = _chosen(site, delete_before, delete or [])
        megabytes = site.words.number(sum(photo.size_bytes for photo in chosen) / 1e6, 1)
        if not sure:
            say(site.words.n("photos.would_delete", len(chosen), megabytes=megabytes))
            return
        site.store.photos.delete([each.entry_id for each in chosen], site.now_ms, person(by))
        say(site.words.n("photos.deleted", len(chosen), megabytes=megabytes), "good")


def _say_room(site: SiteContext) -> None:
    words, store = site.words, site.store
    room = store.photos.room(site.farm.settings.store.photos_mb * 1_000_000)
    used, most = (words.number(size / 1e6, 1) for size in (room.used_bytes, room.most_bytes))
    say(words.n("photos.room", room.count, used=used, most=most, folder=str(store.photos.folder)))
    oldest = next(iter(store.photos.standing()), None)
    entry = None if oldest is None else store.logbook.one(oldest.entry_id)
    if entry is not None:
        say(words.t("photos.oldest", at=words.said_back(entry.at_ms), number=entry.entry_id), "quiet")


def _chosen(site: SiteContext, before: str, numbers: Sequence[int]) -> Sequence[EntryPhoto]:
    standing = {photo.entry_id: photo for photo in site.store.photos.standing()}
    unknown = [number for number in numbers if number not in standing]
    if unknown:
        raise UsageError(
            "entry {number} has no photo; nothing was deleted. `logbook list` shows the numbers",
            number=unknown[0],
        )
    old = site.store.photos.standing(site.times().moment(before)) if before else ()
    return tuple({photo.entry_id: photo for photo in (*old, *(standing[each] for each in numbers))}.values())
