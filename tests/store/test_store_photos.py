"""Photos beside the database: on the disk before an entry names them, bounded, in the copies, never lost."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from pathlib import Path

import pytest
from photo_files import jpeg

from monitor.errors import StoreError, StoreFull, UsageError
from monitor.logbook.photos import Photo, cleaned
from monitor.records import MS_PER_DAY, LogbookEntry, SubjectKind
from monitor.store import Store, copies
from monitor.store.photos import FOLDER, WAITS_MS

NOW_MS = 1_790_000_000_000
MOST = 1_000_000
PHOTO, OTHER = cleaned(jpeg(64, 48)), cleaned(jpeg(64, 48, seed=5))
SMALL = cleaned(jpeg(16, 16)).content


def entry(store: Store, at_ms: int = NOW_MS) -> int:
    """An entry to which a photo may belong."""
    return store.logbook.add(LogbookEntry(SubjectKind.BIN, "bin-1", "stir", at_ms, at_ms, "Ann", {}))


def with_photo(store: Store, photo: Photo = PHOTO, at_ms: int = NOW_MS) -> int:
    """An entry that has one."""
    name = store.photos.lay_down(photo, SMALL, NOW_MS, MOST)
    number = entry(store, at_ms)
    store.photos.take(name, number)
    return number


def files(store: Store) -> list[str]:
    """What lies in the folder."""
    return sorted(path.name for path in store.photos.folder.glob("*"))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store in a folder of its own."""
    (tmp_path / "farm").mkdir()
    with Store.open(tmp_path / "farm" / "rearing.sqlite") as opened:
        yield opened


def test_a_photo_is_a_file_for_its_owner_beside_the_database(store: Store) -> None:
    number = with_photo(store)
    photo = store.photos.of([number])[number]
    assert store.photos.file(photo.name).read_bytes() == PHOTO.content
    assert store.photos.file(photo.name).stat().st_mode & 0o777 == 0o600
    assert store.photos.folder.stat().st_mode & 0o777 == 0o700
    assert (photo.size_bytes, photo.width, photo.height) == (len(PHOTO.content), 64, 48)
    assert store.photos.small(number) == SMALL
    assert files(store) == [photo.name]


def test_an_entry_that_fails_leaves_its_photo_waiting(store: Store) -> None:
    name = store.photos.lay_down(PHOTO, None, NOW_MS, MOST)
    with pytest.raises(RuntimeError), store.database.write():
        store.photos.take(name, entry(store))
        raise RuntimeError
    assert store.photos.waits(name) and not store.logbook.every()
    store.photos.take(name, entry(store))
    assert not store.photos.waits(name)


def test_no_entry_takes_a_photo_whose_file_is_gone(store: Store) -> None:
    name = store.photos.lay_down(PHOTO, None, NOW_MS, MOST)
    store.photos.file(name).unlink()
    with pytest.raises(UsageError, match="not there any more"), store.database.write():
        store.photos.take(name, entry(store))
    assert not store.logbook.every() and not store.photos.of([1])


def test_the_same_photo_may_belong_to_two_entries(store: Store) -> None:
    first, second = with_photo(store), with_photo(store)
    store.photos.delete([first], NOW_MS, "Ann")
    assert len(files(store)) == 1
    store.photos.delete([second], NOW_MS, "Ann")
    assert files(store) == []


def test_what_waited_too_long_goes_and_nothing_else(store: Store) -> None:
    kept = with_photo(store)
    name = store.photos.lay_down(OTHER, None, NOW_MS, MOST)
    stranger = store.photos.folder / "holiday.jpg"
    stranger.write_bytes(b"of somebody")
    third = cleaned(jpeg(8, 8))
    store.photos.lay_down(third, None, NOW_MS + WAITS_MS, MOST)
    assert store.photos.waits(name)
    store.photos.lay_down(third, None, NOW_MS + WAITS_MS + 1, MOST)
    assert not store.photos.waits(name) and not store.photos.file(name).exists()
    assert store.photos.file(store.photos.of([kept])[kept].name).exists() and stranger.exists()


def test_a_clock_that_was_ahead_keeps_no_room(store: Store) -> None:
    name = store.photos.lay_down(OTHER, None, NOW_MS + 400 * MS_PER_DAY, MOST)
    store.photos.lay_down(PHOTO, None, NOW_MS, MOST)
    assert not store.photos.waits(name)


def test_the_room_is_bounded_and_nothing_goes_to_make_room(store: Store) -> None:
    number, size = with_photo(store), len(PHOTO.content)
    with pytest.raises(UsageError, match="no room for more photos"):
        store.photos.lay_down(OTHER, None, NOW_MS, size + len(OTHER.content) - 1)
    assert files(store) == [store.photos.of([number])[number].name]
    store.photos.lay_down(OTHER, None, NOW_MS, size + len(OTHER.content))
    assert store.photos.room(MOST).used_bytes == size + len(OTHER.content)
    # What waits already needs no more room when it comes again.
    store.photos.lay_down(OTHER, None, NOW_MS, size + len(OTHER.content))


def test_a_deleted_photo_stays_noted(store: Store) -> None:
    old, new = with_photo(store, at_ms=NOW_MS - MS_PER_DAY), with_photo(store, OTHER)
    assert [each.entry_id for each in store.photos.standing(NOW_MS)] == [old]
    store.photos.delete([old], NOW_MS, "Ann")
    gone = store.photos.of([old, new])[old]
    assert (gone.gone_ms, gone.gone_by, store.photos.small(old)) == (NOW_MS, "Ann", None)
    assert [each.entry_id for each in store.photos.standing()] == [new] and len(files(store)) == 1
    with pytest.raises(StoreError, match="never deleted"):
        store.database.change("DELETE FROM photo")


def test_a_full_disk_is_named_and_leaves_nothing_half_written(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("monitor.store.photos.os.fsync", full)
    with pytest.raises(StoreFull, match="no room left for a photo"):
        store.photos.lay_down(PHOTO, None, NOW_MS, MOST)
    assert not any(name.endswith(".jpg") for name in files(store))
    monkeypatch.undo()
    name = store.photos.lay_down(PHOTO, None, NOW_MS, MOST)
    assert files(store) == [name]


def test_copies_share_their_photos_and_bring_them_back(store: Store, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    number = with_photo(store)
    name = store.photos.of([number])[number].name
    assert copies.write_copy(store.database, None, stick / "one.sqlite") == ()
    copied = stick / FOLDER / name
    before = copied.stat()
    with_photo(store, OTHER)
    assert copies.write_copy(store.database, None, stick / "two.sqlite") == ()
    assert len(list((stick / FOLDER).iterdir())) == 2
    assert (copied.stat().st_ino, copied.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    with Store.read_only(stick / "one.sqlite") as restored:
        assert restored.photos.file(name).read_bytes() == PHOTO.content


def test_a_photo_that_is_lost_or_changed_is_named_and_the_copy_goes_on(store: Store, tmp_path: Path) -> None:
    lost, whole = with_photo(store), with_photo(store, OTHER)
    photos = store.photos.of([lost, whole])
    store.photos.file(photos[lost].name).write_bytes(b"something else")
    (tmp_path / "stick").mkdir()
    assert copies.write_copy(store.database, None, tmp_path / "stick" / "a.sqlite") == (photos[lost].name,)
    copied = [path.name for path in (tmp_path / "stick" / FOLDER).iterdir()]
    assert copied == [photos[whole].name]


def test_a_copy_of_photos_can_be_given_up(store: Store, tmp_path: Path) -> None:
    with_photo(store)

    def stop(_done: int, total: int) -> None:
        if total == 1:
            raise UsageError("the service stops")

    with pytest.raises(UsageError):
        copies.write_copy(store.database, None, tmp_path / "a.sqlite", stop)
