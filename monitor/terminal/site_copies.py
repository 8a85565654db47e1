"""Copies of the whole site as a person asks for them: into each place of the settings, one of them, or a
folder."""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import typer

from monitor.copies.making import Outcome, Wish, make_copies
from monitor.copies.site_files import variables_of
from monitor.copies.targets import CopyName, FolderTarget, Target, targets_of
from monitor.errors import MonitorError, UsageError
from monitor.settings.loading import FarmFile
from monitor.settings.schema import Settings
from monitor.store import Store, copies
from monitor.terminal.context import SiteContext, command_words, look_at_farm
from monitor.terminal.output import complain, exit_code, progress_bar, say
from monitor.words.localizer import Localizer
from monitor.words.night import copy_fault_line


def places(settings: Settings, target: str | None) -> tuple[Target, ...]:
    """The places that are meant: all of the settings, the one of that name, or a folder of its own."""
    known = targets_of(settings)
    if target is None:
        if not known:
            raise UsageError(
                "where to? Give a file or a folder: `rearing-monitor backup /media/stick/`, "
                "or set [store] backup_folder in the settings"
            )
        return known
    named = [place for place in known if _is_meant(place, target)]
    if not named and "://" in target:
        raise UsageError(
            "{address} stands in no [[copies]] of the settings, and nothing was written. To mend: write it "
            "there, and give its name here.",
            address=target,
        )
    return tuple(named) or (FolderTarget(Path(target), settings.site.id),)


def _is_meant(place: Target, target: str) -> bool:
    if isinstance(place, FolderTarget) and place.folder.resolve() == Path(target).resolve():
        return True
    return bool(place.id) and place.id == target


def _is_of_settings(place: Target, settings: Settings) -> bool:
    return bool(place.id) or place.label == str(settings.store.backup_folder)


def copy_site(site: SiteContext, target: str | None) -> None:
    """Copy to the places that are meant, and say of each what came of it; ends with a code where one
    failed."""
    settings = site.farm.settings
    meant = places(settings, target)
    _refuse_without_secrets(site.farm, meant)
    by_hand = not any(_is_of_settings(place, settings) for place in meant)
    wish = Wish(site.store.database, settings, site.farm.path, site.now_ms, by_hand=by_hand)
    with progress_bar(site.words.t("backup.bar")) as report:
        outcomes = list(make_copies(wish, meant, report))
    if not by_hand:
        with Store.open(settings.store.path, create=False, check=False) as store:
            for outcome in outcomes:
                copies.note(store.meta, outcome.target.id, outcome.fault, site.now_ms, settings)
    _say_outcomes(outcomes, site)
    errors = [outcome.error for outcome in outcomes if outcome.error is not None]
    if errors:
        raise typer.Exit(exit_code(errors[0]))


def _refuse_without_secrets(farm: FarmFile, meant: Sequence[Target]) -> None:
    """A copy that was sealed with a stand-in could be opened by nobody."""
    tables = ("store", "copies") if any(target.is_far for target in meant) else ("store",)
    missing = [name for name in variables_of(farm.path, tables) if not os.environ.get(name)]
    if missing:
        raise UsageError(
            "{names} is not set here, and copies need it; nothing was written. To mend: give it to this "
            "command as the service has it, or keep the secret in a file (…_file in the settings).",
            names=", ".join(missing),
        )


def _say_outcomes(outcomes: Sequence[Outcome], site: SiteContext) -> None:
    words, settings = site.words, site.farm.settings
    for outcome in outcomes:
        if outcome.fault is not None:
            complain(words.t("backup.failed", why=words.sentence(outcome.fault)))
            continue
        size = words.number(outcome.size_bytes / 1e6, 1)
        say(words.t("backup.written", file=f"{outcome.target.label}/{outcome.name}", megabytes=size), "good")
        if outcome.missing_photos:
            folder = str(site.store.photos.folder)
            complain(words.n("backup.no_photos", outcome.missing_photos, folder=folder), "warning")
        warn_of_same_disk(outcome.target, settings, words)
    if settings.store.backup_passphrase is None and any(outcome.name for outcome in outcomes):
        say(words.t("backup.no_secrets"), "quiet")


def warn_of_same_disk(target: Target, settings: Settings, words: Localizer) -> None:
    """Say that a copy there would be lost together with the database."""
    if isinstance(target, FolderTarget) and copies.same_disk(target.folder, settings.store.path):
        complain(words.t("backup.same_disk"), "warning")


def prepare(place: str, config: Path | None) -> None:
    """Mark a folder, or a place of the settings, as the one that takes copies."""
    farm = look_at_farm(config)
    settings, words = farm.settings, command_words(farm.settings)
    [target, *_] = meant = places(settings, place)
    _refuse_without_secrets(farm, meant)
    target.prepare()
    folder = str(Path(place).absolute()) if isinstance(target, FolderTarget) and not target.id else place
    say(words.t("backup.prepared", folder=folder), "good")
    database = settings.store.path
    if _is_of_settings(target, settings) and database.exists():
        with Store.open(database, create=False, check=False) as store:
            copies.forget_fault(store.meta, target.id)
    key = target.new_key()
    if key is not None:
        say(words.t("backup.server_key", key=key))
    warn_of_same_disk(target, settings, words)
    if not target.id and settings.store.backup_folder is None:
        say(words.t("backup.daily_hint", folder=folder))


def list_copies(site: SiteContext, target: str | None) -> None:
    """Say which copies lie where, the newest first, and what the last try met."""
    words, meant = site.words, places(site.farm.settings, target)
    _refuse_without_secrets(site.farm, meant)
    known = {state.place: state for state in copies.states(site.store.meta, site.farm.settings)}
    for place in meant:
        say(place.label, "heading")
        try:
            names = place.list_copies()
        except MonitorError as error:
            complain("  " + words.sentence(error.said), "warning")
            continue
        for name in reversed(names):
            say("  " + _copy_line(place, name, words))
        if not names:
            say("  " + words.t("backup.none_yet"))
        state = known.get(place.id)
        if state is not None and state.fault is not None:
            complain("  " + copy_fault_line(state, words), "warning")


def _copy_line(place: Target, name: CopyName, words: Localizer) -> str:
    size = ""
    with suppress(MonitorError):
        manifest = place.manifest(name)
        size = "" if manifest is None else words.number(manifest.size_bytes / 1e6, 1)
    moment = words.moment(name.made_at_ms)
    if not size:
        return words.t("backup.copy_unread", name=name.text, at=moment)
    return words.t("backup.copy", name=name.text, at=moment, megabytes=size)
