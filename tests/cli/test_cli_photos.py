"""`photos` and the photos of `backup`, as a person calls them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from cli_farm import Farm, now_ms
from photo_files import jpeg

from monitor.logbook.photos import cleaned
from monitor.records import MS_PER_DAY, LogbookEntry, SubjectKind
from monitor.store.photos import FOLDER

Call = Callable[..., tuple[int, str, str]]


def with_photo(farm: Farm, days_ago: int, seed: int) -> int:
    """An entry of some days ago, with its photo."""
    at_ms = now_ms() - days_ago * MS_PER_DAY
    with farm.store() as store:
        name = store.photos.lay_down(cleaned(jpeg(64, 48, seed=seed)), None, now_ms(), 10**9)
        number = store.logbook.add(LogbookEntry(SubjectKind.BIN, "bin-1", "stir", at_ms, at_ms, "Ann", {}))
        store.photos.take(name, number)
    return number


def files(folder: Path) -> int:
    """How many photos lie there."""
    return len(list(folder.glob("*.jpg")))


def test_photos_tells_how_full_it_is_and_deletes_by_a_word_alone(farm: Farm, call: Call) -> None:
    numbers = [with_photo(farm, days, seed) for seed, days in enumerate((400, 200, 1))]
    with farm.store() as store:
        folder = store.photos.folder
    code, out, _ = call("photos")
    assert code == 0 and "3 photos" in out and "of 1000.0 MB" in out and f"entry {numbers[0]}" in out
    code, out, _ = call("photos", "--delete-before", "300 days ago")
    assert code == 0 and "1 photo," in out and "Nothing was deleted" in out and files(folder) == 3
    assert call("photos", "--delete-before", "300 days ago", "--sure", "--by", "Ann")[0] == 0
    assert files(folder) == 2
    code, _, err = call("photos", "--delete", "9999", "--sure")
    assert code == 2 and "entry 9999 has no photo" in err and files(folder) == 2
    assert call("photos", "--delete", str(numbers[2]), "--sure")[0] == 0
    assert files(folder) == 1
    with farm.store() as store:
        gone = store.photos.of(numbers)
        assert [gone[each].gone_ms is None for each in numbers] == [False, True, False]
        assert gone[numbers[0]].gone_by == "Ann" and len(store.logbook.every()) == 3


def test_a_backup_brings_the_photos_and_says_which_are_lost(farm: Farm, call: Call) -> None:
    with_photo(farm, 2, 0)
    number = with_photo(farm, 1, 1)
    (farm.folder / "stick").mkdir()
    assert call("backup", "stick/one.sqlite")[0] == 0
    assert files(farm.folder / "stick" / FOLDER) == 2
    with farm.store() as store:
        store.photos.file(store.photos.of([number])[number].name).unlink()
    assert "cannot be read" not in call("backup", "stick/two.sqlite")[2]
    (farm.folder / "other").mkdir()
    code, _, err = call("backup", "other/three.sqlite")
    assert code == 0 and "1 photo that an entry names cannot be read" in " ".join(err.split())
