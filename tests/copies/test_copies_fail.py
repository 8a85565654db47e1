"""What the person is told when a copy cannot be made: by `backup`, by `check`, and by the night report."""

from __future__ import annotations

import errno
import itertools
import os
import random
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from copied_site import CopiedSite
from cuts import Cutter
from service_farm import T0

from monitor.copies import content, sealed
from monitor.copies.keeping import DAILY, MONTHLY, WEEKLY, to_remove
from monitor.copies.making import make_copies
from monitor.copies.targets import CopyName, FolderTarget, Target, targets_of
from monitor.errors import StoreFull
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE
from monitor.store import copies

GB = 10**9


class Disk(NamedTuple):
    """As `shutil.disk_usage` gives it."""

    total: int
    used: int
    free: int


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[CopiedSite]:
    monkeypatch.setattr(sealed, "COST", 2**8)
    with CopiedSite.made(tmp_path / "site") as made:
        yield made


@pytest.fixture
def stick(tmp_path: Path) -> FolderTarget:
    (tmp_path / "stick").mkdir()
    target = FolderTarget(tmp_path / "stick", "yard")
    target.prepare()
    return target


def told(site: CopiedSite, target: FolderTarget) -> str:
    """Why the copy failed; nothing of it may be left."""
    [outcome] = make_copies(site.wish(T0), [target])
    assert target.list_copies() == ()
    assert {path.name for path in target.folder.iterdir()} <= {copies.MARKER, content.PHOTOS}
    return str(outcome.fault)


def test_a_stick_without_room_is_left_alone(
    site: CopiedSite, stick: FolderTarget, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Disk(GB, GB, 1_000_000))
    said = told(site, stick)
    assert said.startswith(f"{stick.folder}: a copy needs 20")
    assert "1 MB are left. To mend: delete what you do not need there, or use a larger stick" in said


def _full_database(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise StoreFull("the disk has no room left")

    monkeypatch.setattr(copies, "backup", full)


def _failing_sync(number: int) -> Callable[[pytest.MonkeyPatch], None]:
    def patch(monkeypatch: pytest.MonkeyPatch) -> None:
        def fail(_handle: int) -> None:
            raise OSError(number, os.strerror(number))

        monkeypatch.setattr(os, "fsync", fail)

    return patch


@pytest.mark.parametrize("full", [_full_database, _failing_sync(errno.ENOSPC)])
def test_a_stick_that_fills_up_in_the_middle(
    site: CopiedSite,
    stick: FolderTarget,
    monkeypatch: pytest.MonkeyPatch,
    full: Callable[[pytest.MonkeyPatch], None],
) -> None:
    full(monkeypatch)
    said = told(site, stick)
    assert said.startswith(f"{stick.folder}: no room is left there, and this copy was thrown away. To mend:")


def test_a_stick_that_cannot_be_written(
    site: CopiedSite, stick: FolderTarget, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = Path.mkdir

    def locked(self: Path, *arguments: Any, **more: Any) -> None:
        if self.is_relative_to(stick.folder):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        made(self, *arguments, **more)

    monkeypatch.setattr(Path, "mkdir", locked)
    said = told(site, stick)
    assert said.startswith(f"{stick.folder} cannot be written: Read-only file system. To mend: see whether")
    assert "locked against writing or damaged" in said


def test_a_copy_that_the_stick_does_not_hold_as_it_was_written(
    site: CopiedSite, stick: FolderTarget, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the disk gives back is read afresh, and compared."""
    real = content.sha256_of

    def fallen(path: Path, afresh: bool = False) -> str:
        return "0" * 64 if afresh and path.name == content.DATABASE else real(path, afresh)

    monkeypatch.setattr(content, "sha256_of", fallen)
    said = told(site, stick)
    assert "the copy is not whole. rearing.sqlite is not as it was written." in said
    assert "use another stick or disk" in said


def test_the_second_place_gets_its_copy_from_the_first(
    site: CopiedSite, stick: FolderTarget, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "second").mkdir()
    second = FolderTarget(tmp_path / "second", "yard", "second")
    second.prepare()
    made: list[Path] = []
    real = content.write_site_copy

    def noted(*arguments: object) -> content.CopyManifest:
        made.append(arguments[3])  # type: ignore[arg-type]
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(content, "write_site_copy", noted)
    outcomes = list(make_copies(site.wish(T0), [stick, second]))
    assert [outcome.fault for outcome in outcomes] == [None, None]
    assert len(made) == 1
    assert stick.manifest(CopyName.at(T0)) == second.manifest(CopyName.at(T0))


def test_nothing_stays_beside_the_database(site: CopiedSite) -> None:
    from monitor.copies.targets import target_of
    from monitor.settings.schema import CopyPlace

    far = target_of(CopyPlace(id="away", url=f"memory://{site.folder}"), "yard")
    far.prepare()
    before = set(site.folder.iterdir())
    [outcome] = make_copies(site.wish(T0), [far])
    assert outcome.fault is None
    assert set(site.folder.iterdir()) == before


# Which copies stay.


def names(*days_ago: float) -> list[CopyName]:
    """Copies of so many days before T0."""
    return [CopyName.at(T0 - round(days * MS_PER_DAY)) for days in days_ago]


def kept_after(nights: int, *, start_ms: int = T0) -> list[CopyName]:
    """What lies there after so many nights with a copy each."""
    lying: list[CopyName] = []
    for night in range(nights):
        now_ms = start_ms + night * MS_PER_DAY
        lying.append(CopyName.at(now_ms))
        gone = to_remove(lying, now_ms)
        lying = [name for name in lying if name not in gone]
    return lying


def test_after_two_years_there_are_days_weeks_and_months() -> None:
    last_ms = T0 + 729 * MS_PER_DAY
    days = [(last_ms - name.made_at_ms) // MS_PER_DAY for name in kept_after(730)]
    assert days[-DAILY:] == [6, 5, 4, 3, 2, 1, 0]
    assert MONTHLY + WEEKLY <= len(days) <= DAILY + WEEKLY + MONTHLY
    assert 300 <= days[0] <= 366
    gaps = [before - after for before, after in itertools.pairwise(days)]
    assert max(gaps) <= 31


def test_after_a_long_pause_nothing_goes() -> None:
    lying = names(400, 399, 398, 397, 396, 395, 394)
    assert to_remove([*lying, CopyName.at(T0)], T0) == ()


@pytest.mark.parametrize("ahead_days", [1, 40, 3650])
def test_a_clock_that_is_wrong_for_many_nights_costs_no_good_copy(ahead_days: int) -> None:
    """Ahead, back again, and ahead again by another time: each look may be wrong."""
    good = kept_after(60)
    last_ms = max(name.made_at_ms for name in good)
    wrong = [CopyName.at(last_ms + (ahead_days + night) * MS_PER_DAY) for night in range(30)]
    for now_ms in (last_ms + MS_PER_HOUR, last_ms - 3650 * MS_PER_DAY, last_ms):
        gone = to_remove([*good, *wrong], now_ms)
        assert set(gone) <= set(wrong)


def test_at_most_two_go_at_once_and_none_that_was_made_by_hand() -> None:
    many = [CopyName.at(T0 - minute * MS_PER_MINUTE) for minute in range(30)]
    assert len(to_remove(many, T0)) == 2
    by_hand = [CopyName.at(name.made_at_ms, by_hand=True) for name in many]
    assert to_remove(by_hand, T0) == ()


# The power goes in the middle.


def cut_often(folder: Path, cuts: int) -> int:
    """Copy again and again to a folder and an address, killed at any moment; gives how often it was cut.

    Whatever has the name of a copy must be whole, and the next copy must succeed.
    """
    more = f'[[copies]]\nid = "stick"\nfolder = "{folder / "stick"}"\n'
    more += f'[[copies]]\nid = "away"\nurl = "file://{folder / "away"}"\n'
    (folder / "stick").mkdir()
    with CopiedSite.made(folder / "site", more=more) as site:
        places = targets_of(site.settings)
        for place in places:
            place.prepare()
    chance, was_cut = random.Random(14), 0
    with Cutter("copied_site:copy_once") as cutter:
        cutter.cut(60.0, str(folder / "site"), str(T0))
        for number in range(1, cuts + 1):
            now_ms = T0 + number * MS_PER_DAY
            was_cut += cutter.cut_somewhere(chance, str(folder / "site"), str(now_ms))
            for place in places:
                _check_newest(place, folder / f"back-{number}-{place.id}")
        assert not cutter.cut(60.0, str(folder / "site"), str(now_ms + 2 * MS_PER_DAY))
    lying = {path.name for path in (*(folder / "stick").iterdir(), *(folder / "away").iterdir())}
    assert not any(name.endswith(".part") for name in lying), "what was cut is cleared"
    assert not list((folder / "site").glob(".rearing-copies/*"))
    return was_cut


def _check_newest(place: Target, into: Path) -> None:
    newest = place.list_copies()[-1]
    manifest = place.fetch(newest, into)
    assert content.missing_photos(into, manifest) == ()
    shutil.rmtree(into)


@pytest.mark.slow
def test_cut_at_any_moment_no_copy_is_half_of_one(tmp_path: Path) -> None:
    assert cut_often(tmp_path, 10) > 4


@pytest.mark.study
def test_cut_five_hundred_times_no_copy_is_half_of_one(tmp_path: Path) -> None:
    assert cut_often(tmp_path, 500) > 300
