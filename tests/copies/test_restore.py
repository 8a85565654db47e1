"""The way back: everything in its place or nothing, whenever it is cut; what is there is kept."""

from __future__ import annotations

import math
import os
import random
import shutil
import sqlite3
import stat
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path

import pytest
from copied_site import PASSPHRASE
from cuts import Cutter
from first_release import first_database, rows_of
from restored_site import STAMP, brought_back, copied, has_notes, tree_of
from service_farm import T0

from monitor.copies import content
from monitor.copies.placing import BEGUN, JOURNAL, Move, placing, settle
from monitor.copies.restore import Restoration
from monitor.copies.source import source_at
from monitor.errors import CopyError, MonitorError, StoreTooNew, UsageError
from monitor.farm.places import sign_of_life
from monitor.settings.loading import load
from monitor.store import Store, schema

CUTS, CUTS_IN_THE_SUITE = 1000, 5
SECRETS = ("boards/ca.key", "boards/cards/node-1.json", "broker-password", "etc/rearing/users")


def _restored(folder: Path, stick: Path, *more: str) -> Path:
    brought_back(str(stick), str(folder / "site" / "farm.toml"), *more)
    return folder / "site"


def test_a_site_comes_back_on_a_bare_computer_with_all_it_had(tmp_path: Path) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    site = _restored(tmp_path, stick, PASSPHRASE)
    before, after = tree_of(tmp_path / "gone"), tree_of(site)
    assert after == before
    with Store.open(site / "rearing.sqlite") as store:
        assert store.meta.get("page_key") == "hush-page_key"
        assert [phone.endpoint for phone in store.phones.every()] == ["https://push.example/hush-phone"]
    for name in SECRETS:
        assert stat.S_IMODE((site / name).stat().st_mode) == 0o600
    assert stat.S_IMODE((site / "rearing.sqlite").stat().st_mode) == 0o600
    assert not has_notes(site)


def test_the_monitor_of_the_old_computer_does_not_run_in_what_came_back(tmp_path: Path) -> None:
    stick = copied(tmp_path, running=True)
    site = _restored(tmp_path, stick)
    with Store.open(site / "rearing.sqlite") as store:
        assert sign_of_life(store, T0) == (False, T0)


def test_whole_paths_into_the_old_folder_start_at_the_new_one(tmp_path: Path) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    file = tmp_path / "elsewhere" / "farm.toml"
    done = brought_back(str(stick), str(file), PASSPHRASE)
    assert done.moved_paths == ("[broker] files",)
    settings = load(file, {"REARING_KEEPER": "json://x"})
    assert settings.broker.files == file.parent / "etc" / "rearing"
    assert not (tmp_path / "site").exists()
    assert 'password = "hush-in-the-file"' in file.read_text()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_without_the_passphrase_the_rest_comes_back_and_what_is_missing_is_named(tmp_path: Path) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    done = brought_back(str(stick), str(tmp_path / "site" / "farm.toml"))
    assert sorted(done.secret_files) == ["broker-password", "passphrase"], "what a person can write again"
    assert done.secret_keys == ("[page] password",)
    assert done.boards_need_cards and done.page_is_new
    assert "hush" not in (tmp_path / "site" / "farm.toml").read_text()
    with Store.open(tmp_path / "site" / "rearing.sqlite") as store:
        assert store.meta.get("page_key") is None
        assert len(store.logbook.every()) == 1


def test_a_wrong_passphrase_changes_nothing(tmp_path: Path) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    with pytest.raises(CopyError, match="the passphrase does not open"):
        _restored(tmp_path, stick, "not this one at all")
    assert not (tmp_path / "site").exists(), "the folder that was made is gone again"


def test_a_damaged_database_is_kept_beside_the_one_that_comes_back(tmp_path: Path) -> None:
    stick = copied(tmp_path)
    shutil.copytree(tmp_path / "gone", tmp_path / "site")
    site = tmp_path / "site"
    (site / "rearing.sqlite").write_bytes(b"SQLite format 3\0 and then nothing that makes sense")
    (site / "rearing.sqlite-wal").write_bytes(b"what was not folded in")
    (site / "farm.toml").write_text((site / "farm.toml").read_text() + "# changed since the night\n")
    done = brought_back(str(stick), str(site / "farm.toml"))
    assert "changed since the night" in (site / "farm.toml").read_text(), "this computer has its own settings"
    kept = site / f"rearing.sqlite.before-restore-{STAMP}"
    assert kept.read_bytes().startswith(b"SQLite format 3\0 and then")
    assert Path(f"{kept}-wal").read_bytes() == b"what was not folded in"
    assert not (site / "rearing.sqlite-wal").exists(), "it would spoil the database that came back"
    assert set(done.kept) == {kept, Path(f"{kept}-wal")}
    assert done.left == () and done.secret_files == ()
    with Store.open(site / "rearing.sqlite") as store:
        assert len(store.logbook.every()) == 1


def test_everything_takes_settings_and_keys_of_the_copy_and_keeps_those_that_were_there(
    tmp_path: Path,
) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    shutil.copytree(tmp_path / "gone", tmp_path / "site")
    site = tmp_path / "site"
    (site / "boards" / "ca.pem").write_text("of this computer")
    done = brought_back(str(stick), str(site / "farm.toml"), PASSPHRASE)
    assert done.left == (site / "boards" / "ca.pem",)
    done = brought_back(str(stick), str(site / "farm.toml"), PASSPHRASE, "everything", "20260921-190000")
    assert (site / "boards" / "ca.pem").read_bytes() == (tmp_path / "gone" / "boards" / "ca.pem").read_bytes()
    assert (site / "boards" / "ca.pem.before-restore-20260921-190000").read_text() == "of this computer"
    assert done.left == ()


def test_a_copy_of_another_site_is_refused(tmp_path: Path) -> None:
    stick = copied(tmp_path)
    site = tmp_path / "site"
    site.mkdir()
    (site / "farm.toml").write_text((tmp_path / "gone" / "farm.toml").read_text().replace('"yard"', '"hill"'))
    before = tree_of(site)
    with pytest.raises(UsageError, match=r"of the site hill.*of the site yard.*nothing was changed"):
        _restored(tmp_path, stick)
    assert tree_of(site) == before


def test_an_old_copy_of_one_file_comes_back_and_is_brought_up_to_date(tmp_path: Path) -> None:
    copied(tmp_path)
    old = first_database(tmp_path / "rearing-2026-09-22.sqlite")
    shutil.copy(
        Path(__file__).parent.parent / "references" / "first_release.farm.toml", old.with_suffix(".farm.toml")
    )
    site = tmp_path / "site"
    done = brought_back(str(old), str(site / "farm.toml"))
    assert load(site / "farm.toml", dict.fromkeys(done.variables, "json://x")).site.id == "saltbush-yard"
    with closing(sqlite3.connect(site / "rearing.sqlite")) as connection:
        assert schema.version(connection) == schema.newest()
    assert len(rows_of(site / "rearing.sqlite")["logbook"]) == 285
    assert list(site.glob("*before-update*")) == [], "the copy itself is the way back"


def test_an_old_copy_without_settings_goes_where_the_settings_are(tmp_path: Path) -> None:
    copied(tmp_path)
    old = first_database(tmp_path / "rearing-2026-09-22.sqlite")
    with pytest.raises(CopyError, match=r"holds no settings.*`rearing-monitor init`"):
        brought_back(str(old), str(tmp_path / "site" / "farm.toml"))
    assert not (tmp_path / "site").exists()


def test_a_copy_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    stick = copied(tmp_path)
    (copy,) = (path for path in stick.iterdir() if path.name.startswith("rearing-2026"))
    manifest = content.read_manifest(copy)
    with closing(sqlite3.connect(copy / "rearing.sqlite")) as connection:
        connection.execute("INSERT INTO migration VALUES(?, 'from the future', 0)", (schema.newest() + 1,))
        connection.execute("UPDATE meta SET value = '9.4.1' WHERE key = 'program_version'")
        connection.commit()
    single = shutil.copy(copy / "rearing.sqlite", tmp_path / "rearing-2026-09-22.sqlite")
    shutil.copy(copy / "farm.toml", tmp_path / "rearing-2026-09-22.farm.toml")
    assert manifest.site == "yard"
    with pytest.raises(StoreTooNew, match=r"install version 9\.4\.1"):
        brought_back(str(single), str(tmp_path / "site" / "farm.toml"))
    assert not (tmp_path / "site").exists()


@pytest.mark.parametrize("spoil", ["cut", "flip", "gone"])
def test_a_copy_that_is_not_whole_changes_nothing(tmp_path: Path, spoil: str) -> None:
    stick = copied(tmp_path)
    (database,) = stick.glob("rearing-2026*/rearing.sqlite")
    data = bytearray(database.read_bytes())
    if spoil == "cut":
        database.write_bytes(data[: len(data) // 2])
    elif spoil == "flip":
        data[len(data) // 2] ^= 1
        database.write_bytes(data)
    else:
        database.unlink()
    with pytest.raises(MonitorError):
        _restored(tmp_path, stick)
    assert not (tmp_path / "site").exists()


def test_the_source_is_a_place_one_copy_in_it_or_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = copied(tmp_path)
    (copy,) = stick.glob("rearing-2026*")
    monkeypatch.chdir(copy)
    for text in (str(stick), f"{stick}/", str(copy), f"{copy}/", "."):
        assert source_at(text, "", T0).label == str(copy), text
    assert source_at(str(stick), copy.name, T0).label == str(copy)
    with pytest.raises(UsageError, match=rf'no copy "other".*there are: {copy.name}'):
        source_at(str(stick), "other", T0)
    (tmp_path / "empty").mkdir()
    with pytest.raises(CopyError, match="holds no copy"):
        source_at(str(tmp_path / "empty"), "", T0)
    with pytest.raises(CopyError, match="does not exist"):
        source_at(str(tmp_path / "nowhere"), "", T0)


def test_a_copy_dated_ahead_is_passed_over_unless_all_are(tmp_path: Path) -> None:
    stick = copied(tmp_path)
    (copy,) = stick.glob("rearing-2026*")
    ahead = shutil.copytree(copy, stick / "rearing-2037-01-01-000000")
    found = source_at(str(stick), "", T0)
    assert found.label == str(copy) and [name.text for name in found.passed_over] == [ahead.name]
    assert source_at(str(stick), ahead.name, T0).label == str(ahead)
    with_wrong_clock = source_at(str(stick), "", 0)
    assert with_wrong_clock.label == str(ahead) and with_wrong_clock.passed_over == ()


def test_where_files_go_outside_of_the_folder_is_shown_and_no_place_climbs(tmp_path: Path) -> None:
    stick = copied(tmp_path)
    (copy,) = stick.glob("rearing-2026*")
    for place, said in (("/etc/cron.d/evil", None), ("boards/../../evil", "is no place for a file")):
        manifest = content.read_manifest(copy)
        files = [
            replace(file, place=place) if file.role is content.Role.BROKER else file
            for file in manifest.files
        ]
        text = content.manifest_text(replace(manifest, files=tuple(files)))
        (copy / content.MANIFEST).write_text(text)
        with placing(tmp_path / "site", STAMP) as site:
            restoration = Restoration(site, tmp_path / "site" / "farm.toml", False, {})
            restoration.fetch(source_at(str(stick), "", T0))
            restoration.bring_up_to_date()
            if said is None:
                assert Path("/etc/cron.d") in restoration.contents(T0).outside
            else:
                with pytest.raises(CopyError, match=said):
                    restoration.contents(T0)


def test_what_is_in_a_copy_is_shown_before_anything_is_changed(tmp_path: Path) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    for file in stick.glob("rearing-photos/*"):
        file.unlink()
    file = tmp_path / "site" / "farm.toml"
    with placing(file.parent, STAMP) as place:
        restoration = Restoration(place, file, False, {})
        restoration.fetch(source_at(str(stick), "", T0))
        restoration.bring_up_to_date()
        found = restoration.contents(T0)
    assert (found.title, found.site, found.readings_until_ms) == ("Yard", "yard", T0)
    assert (found.photos, found.missing_photos, found.cohorts, found.open_alarms) == (1, 1, (), 0)
    assert found.has_sealed and not found.is_unsealed
    assert not file.parent.exists()


# Cuts.


def test_where_one_file_cannot_get_its_place_all_stay_as_they_were(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = copied(tmp_path, PASSPHRASE)
    shutil.copytree(tmp_path / "gone", tmp_path / "site")
    site = tmp_path / "site"
    (site / "boards" / "ca.pem").write_text("of this computer")
    before = tree_of(site)
    rename, count = Path.rename, 0

    def refuse(path: Path, target: Path) -> Path:
        nonlocal count
        count += JOURNAL in {file.name for file in site.iterdir()}
        if count == 4:
            raise PermissionError(13, "Permission denied", str(path))
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(CopyError, match="everything is as it was before"):
        brought_back(str(stick), str(site / "farm.toml"), PASSPHRASE, "everything")
    assert count > 4 and tree_of(site) == before


def test_a_command_waits_for_a_restore_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("monitor.copies.placing.PATIENCE_S", 0.0)
    with placing(tmp_path, STAMP):
        for _ in range(2):
            with pytest.raises(CopyError, match="a restore is under way"):
                settle(tmp_path)
            with pytest.raises(CopyError, match="a restore is under way"), placing(tmp_path, "later"):
                pass
    assert settle(tmp_path) is False and not has_notes(tmp_path)


def test_a_journal_is_carried_out_by_whoever_comes_next(tmp_path: Path) -> None:
    old, new = tmp_path / "farm.toml", tmp_path / ".farm.toml.new"
    old.write_text("old")
    new.write_text("new")
    (tmp_path / BEGUN).write_text(f'{{"file": "{new}"}}\n{{"fi')
    (tmp_path / JOURNAL).write_text(
        f'{{"stamp": "s", "moves": [["{new}", "{old}"], [null, "{tmp_path}/w"]]}}'
    )
    assert settle(tmp_path) is True
    assert tree_of(tmp_path).keys() == {"farm.toml", "farm.toml.before-restore-s"}
    assert old.read_text() == "new"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root gives files away")
def test_what_root_restores_belongs_to_the_owner_of_the_folder_or_the_user_of_the_service(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick, service = copied(tmp_path), tmp_path / "rearing-monitor"
    monkeypatch.setattr("monitor.copies.placing.SERVICE_USER", "nobody")
    brought_back(str(stick), str(service / "farm.toml"))
    assert {path.owner() for path in (service, *service.rglob("*"))} == {"nobody"}
    monkeypatch.setattr("monitor.copies.placing.SERVICE_USER", "nobody-of-that-name")
    (tmp_path / "yard").mkdir()
    shutil.chown(tmp_path / "yard", "nobody")
    brought_back(str(stick), str(tmp_path / "yard" / "rearing-monitor" / "farm.toml"))
    assert {path.owner() for path in (tmp_path / "yard").rglob("*")} == {"nobody"}


def test_what_was_kept_is_never_written_over_even_where_the_clock_stands(tmp_path: Path) -> None:
    for text in ("second", "third", "fourth"):
        with placing(tmp_path, STAMP) as place:
            new = place.beside(tmp_path / "file")
            place.intend([new])
            new.write_text(text)
            place.commit([Move(new, tmp_path / "file")])
    kept = {path.name: path.read_text() for path in tmp_path.iterdir()}
    assert kept == {
        "file": "fourth",
        f"file.before-restore-{STAMP}": "second",
        f"file.before-restore-{STAMP}-2": "third",
    }


def test_what_was_begun_and_not_committed_is_thrown_away(tmp_path: Path) -> None:
    with placing(tmp_path / "a" / "b", STAMP) as place:
        there = place.beside(tmp_path / "c" / "file")
        place.intend([there])
        place.make_folder(there.parent)
        there.write_text("new")
        assert Move(there, tmp_path / "c" / "file").place.parent == there.parent
    assert list(tmp_path.iterdir()) == []


class _Cut(BaseException):
    """The power is gone."""


class _Power:
    """Every change of the disk counts; from the last one that is allowed on, all are refused."""

    CHANGES = ("rename", "replace", "unlink", "rmdir", "mkdir", "fsync", "write", "ftruncate")

    def __init__(self, patch: pytest.MonkeyPatch, most: float) -> None:
        self.count, self._most = 0, most
        for name in self.CHANGES:
            patch.setattr(os, name, self._counted(getattr(os, name)))

    def _counted(self, change: Callable[..., object]) -> Callable[..., object]:
        def counted(*arguments: object, **named: object) -> object:
            self.count += 1
            if self.count > self._most:
                raise _Cut
            return change(*arguments, **named)

        return counted


def _changes_until_cut(do: Callable[[], object], most: float) -> int:
    with pytest.MonkeyPatch.context() as patch:
        power = _Power(patch, most)
        with suppress(_Cut):
            do()
        return power.count


def test_a_cut_at_each_change_of_the_disk_and_another_while_that_is_settled(tmp_path: Path) -> None:
    (tmp_path / "before").mkdir()
    for name in ("farm.toml", "rearing.sqlite", "rearing.sqlite-wal"):
        (tmp_path / "before" / name).write_text(f"old {name}")
    site, luck = tmp_path / "site", random.Random(7)

    def restore() -> None:
        with placing(site, STAMP) as place:
            wanted = [site / "farm.toml", site / "rearing.sqlite", site / "boards" / "ca.key"]
            moves = [Move(place.beside(path), path) for path in wanted]
            place.intend(place.beside(path) for path in wanted)
            place.make_folder(site / "boards")
            for path in wanted:
                place.beside(path).write_text(f"new {path.name}")
            place.commit([Move(None, site / "rearing.sqlite-wal"), *moves])

    def lay_out() -> None:
        shutil.rmtree(site, ignore_errors=True)
        shutil.copytree(tmp_path / "before", site)

    lay_out()
    old = tree_of(site)
    longest = _changes_until_cut(restore, math.inf)
    new, seen = tree_of(site), list[str]()
    assert {name for name in new if STAMP not in name} == {"farm.toml", "rearing.sqlite", "boards/ca.key"}
    for most in range(longest):
        lay_out()
        _changes_until_cut(restore, most)
        _changes_until_cut(lambda: settle(site), luck.randrange(12))
        settle(site)
        state = tree_of(site)
        assert state in (old, new), f"cut after {most} changes"
        assert not has_notes(site) and (state == new or not (site / "boards").exists())
        seen.append("new" if state == new else "old")
    assert seen == sorted(seen, reverse=True), "from one moment on it is the new state"
    assert set(seen) == {"old", "new"}


def _cut_often(folder: Path, cuts: int, seed: int) -> dict[str, int]:
    """Cut restores at random times, some of them over a site that is there, and cut what settles them too."""
    stick = copied(folder)
    (folder / "gone").rename(folder / "was")
    luck, seen = random.Random(seed), {"old": 0, "new": 0}
    site, file = folder / "site", folder / "site" / "farm.toml"
    states = {}
    for there in (False, True):
        _lay_out(folder, there)
        states[there, "old"] = tree_of(site)
        brought_back(str(stick), str(file), "", "everything")
        states[there, "new"] = tree_of(site)
    assert states[False, "old"] == {} and states[True, "old"] != states[True, "new"]
    with Cutter("restored_site:brought_back") as restoring, Cutter("restored_site:settled") as settling:
        for number in range(cuts):
            there = number % 2 == 1
            _lay_out(folder, there)
            restoring.cut_somewhere(luck, str(stick), str(file), "", "everything")
            while has_notes(site) and luck.random() < 0.5:
                settling.cut_somewhere(luck, str(site))
            settle(site)
            state = tree_of(site)
            found = [name for name in ("old", "new") if state == states[there, name]]
            assert found, f"cut {number} left neither state: {sorted(state)}"
            seen[found[0]] += 1
    return seen


def _lay_out(folder: Path, there: bool) -> None:
    """The site as it is before: bare, or with a database that lies about and settings that have changed."""
    site = folder / "site"
    shutil.rmtree(site, ignore_errors=True)
    if there:
        shutil.copytree(folder / "was", site)
        (site / "rearing.sqlite-wal").write_bytes(b"")
        (site / "boards" / "ca.pem").write_text("of this computer")
        (site / "farm.toml").write_text((site / "farm.toml").read_text() + "# changed\n")


def test_cuts_at_any_moment_leave_the_old_or_the_new_state(tmp_path: Path) -> None:
    assert sum(_cut_often(tmp_path, CUTS_IN_THE_SUITE, seed=5).values()) == CUTS_IN_THE_SUITE


@pytest.mark.study
@pytest.mark.timeout(3600)
def test_a_thousand_cuts_at_any_moment_leave_the_old_or_the_new_state(tmp_path: Path) -> None:
    seen = _cut_often(tmp_path, CUTS, seed=17)
    assert min(seen.values()) > CUTS / 10
