"""Copies of a whole site: one suite for a folder and for a place that fsspec reaches."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Iterator
from pathlib import Path

import fsspec
import pytest
from copied_site import PASSPHRASE, CopiedSite
from service_farm import T0

from monitor.copies import content, remote, sealed
from monitor.copies.content import Role
from monitor.copies.making import make_copies
from monitor.copies.remote import RemoteTarget
from monitor.copies.targets import CopyName, FolderTarget, Target, target_at
from monitor.errors import CopyError, UsageError
from monitor.records import MS_PER_DAY, MS_PER_MINUTE
from monitor.settings.schema import CopyPlace
from monitor.store import Store
from monitor.store.copies import MARKER

MakeTarget = Callable[[str | None], Target]
_NUMBERS = itertools.count()


@pytest.fixture(autouse=True)
def quick_seal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Scrypt is slow on purpose; one test takes its true cost."""
    monkeypatch.setattr(sealed, "COST", 2**8)


@pytest.fixture(params=["folder", "memory", "file"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[MakeTarget]:
    """Makes the target of one place for a site."""
    if request.param == "folder":
        (tmp_path / "stick").mkdir()
        yield lambda site: FolderTarget(tmp_path / "stick", site, "stick")
        return
    url = f"file://{tmp_path / 'far'}" if request.param == "file" else f"memory://copies-{next(_NUMBERS)}"
    yield lambda site: RemoteTarget.of(CopyPlace(id="away", url=url), site)
    fsspec.filesystem("memory").store.clear()


@pytest.fixture
def site(tmp_path: Path) -> Iterator[CopiedSite]:
    with CopiedSite.made(tmp_path / "site") as made:
        yield made


def copied(site: CopiedSite, target: Target, now_ms: int = T0, **more: bool) -> CopyName:
    """Make one copy."""
    [outcome] = make_copies(site.wish(now_ms, **more), [target])
    assert outcome.fault is None, outcome.fault
    assert outcome.name is not None
    return outcome.name


def test_what_was_copied_comes_back_as_it_was(site: CopiedSite, place: MakeTarget, tmp_path: Path) -> None:
    target = place("yard")
    target.prepare()
    name = copied(site, target)
    assert target.list_copies() == (name,)
    manifest = target.fetch(name, tmp_path / "back")
    assert manifest == content.read_manifest(tmp_path / "back") == target.manifest(name)
    assert (manifest.site, manifest.made_at_ms, manifest.newest_reading_ms) == ("yard", T0, T0)
    assert content.missing_photos(tmp_path / "back", manifest) == ()
    assert (tmp_path / "back" / "rearing-photos" / site.photo).read_bytes() == site.photo_content
    with Store.open(tmp_path / "back" / content.DATABASE) as store:
        assert len(store.readings.sensors()) == 1
    assert {file.role for file in manifest.files} == set(Role) - {Role.PHOTO}
    places = {file.path: file.place for file in manifest.files}
    assert places["boards/ca.pem"] == "boards/ca.pem"
    assert places["broker/access"] == "etc/rearing/access"
    assert manifest.from_environment == ("REARING_KEEPER",)


def test_no_secret_is_in_a_copy_but_sealed(site: CopiedSite, place: MakeTarget, tmp_path: Path) -> None:
    target = place("yard")
    target.prepare()
    manifest = target.fetch(copied(site, target), tmp_path / "back")
    everything = b"".join(path.read_bytes() for path in (tmp_path / "back").rglob("*") if path.is_file())
    assert b"hush" not in everything
    assert b"PRIVATE KEY" not in everything
    back = sealed.unseal((tmp_path / "back" / content.SEALED).read_bytes(), PASSPHRASE, "it")
    assert {file.place for file in back.files} == set(manifest.withheld) == set(site.secret_places)
    assert b"hush-in-the-file" in next(file.content for file in back.files if file.place == "farm.toml")
    with Store.open(tmp_path / "back" / content.DATABASE) as store:
        assert store.meta.get("page_key") is None
        sealed.put_into_database(store.database, back)
        assert store.meta.get("page_key") == "hush-page_key"
        assert [phone.endpoint for phone in store.phones.every()] == ["https://push.example/hush-phone"]


def test_without_a_passphrase_secrets_stay_out_and_are_named(tmp_path: Path, place: MakeTarget) -> None:
    target = place("yard")
    target.prepare()
    with CopiedSite.made(tmp_path / "site", passphrase=None) as site:
        manifest = target.fetch(copied(site, target), tmp_path / "back")
        assert not manifest.secrets_inside
        assert manifest.file(Role.SEALED) is None
        assert set(manifest.withheld) == set(site.secret_places) - {"passphrase"}


def test_a_wrong_passphrase_is_said_and_so_is_a_damaged_file() -> None:
    text = sealed.seal(sealed.SiteSecrets(facts={"page_key": "x"}), PASSPHRASE)
    assert sealed.unseal(text, PASSPHRASE, "it").facts == {"page_key": "x"}
    with pytest.raises(CopyError, match="the passphrase does not open it, or the file is damaged"):
        sealed.unseal(text, PASSPHRASE + " ", "it")
    with pytest.raises(CopyError, match="the passphrase does not open it, or the file is damaged"):
        sealed.unseal(text[:-1] + bytes([text[-1] ^ 1]), PASSPHRASE, "it")
    with pytest.raises(CopyError, match="it is damaged"):
        sealed.unseal(b"no head", PASSPHRASE, "it")


def test_a_place_has_to_be_prepared_and_belongs_to_one_site(site: CopiedSite, place: MakeTarget) -> None:
    target = place("yard")
    [outcome] = make_copies(site.wish(T0), [target])
    assert "was not prepared for copies, and nothing was written" in str(outcome.fault)
    place("other-yard").prepare()
    [outcome] = make_copies(site.wish(T0), [target])
    assert "takes the copies of another site (other-yard)" in str(outcome.fault)
    with pytest.raises(UsageError, match="other-yard"):
        target.prepare()
    assert place(None).list_copies() == (), "whoever reads may"


def test_a_photo_is_sent_once(site: CopiedSite, place: MakeTarget, tmp_path: Path) -> None:
    target = place("yard")
    target.prepare()
    copied(site, target)
    (site.folder / "rearing-photos" / site.photo).unlink()
    name = copied(site, target, T0 + MS_PER_DAY)
    manifest = target.fetch(name, tmp_path / "back")
    assert content.missing_photos(tmp_path / "back", manifest) == ()


def test_a_photo_that_is_nowhere_is_named(site: CopiedSite, place: MakeTarget, tmp_path: Path) -> None:
    (site.folder / "rearing-photos" / site.photo).unlink()
    target = place("yard")
    target.prepare()
    [outcome] = make_copies(site.wish(T0), [target])
    assert (outcome.fault, outcome.missing_photos) == (None, 1)
    assert outcome.name is not None
    manifest = target.fetch(outcome.name, tmp_path / "back")
    assert content.missing_photos(tmp_path / "back", manifest) == (f"rearing-photos/{site.photo}",)


def test_a_copy_that_is_ended_in_the_middle_leaves_none(site: CopiedSite, place: MakeTarget) -> None:
    target = place("yard")
    target.prepare()
    good = copied(site, target)
    steps = 0

    def count(_done: int, _total: int) -> None:
        nonlocal steps
        steps += 1

    list(make_copies(site.wish(T0 + MS_PER_DAY), [target], count))
    target.remove(CopyName.at(T0 + MS_PER_DAY))
    for end in range(1, steps, 3):
        seen = iter(range(end))

        def stop(_done: int, _total: int, seen: Iterator[int] = seen) -> None:
            if next(seen, None) is None:
                raise UsageError("ended")

        [outcome] = make_copies(site.wish(T0 + MS_PER_DAY), [target], stop)
        assert str(outcome.fault) == "ended"
        assert target.list_copies() == (good,)
    assert steps >= 2


def test_the_seal_costs_who_guesses_as_much_as_is_advised(monkeypatch: pytest.MonkeyPatch) -> None:
    """32 MiB and three passes, one of the pairs that OWASP's cheat sheet on storing passwords gives."""
    monkeypatch.undo()
    head = sealed.seal(sealed.SiteSecrets(), PASSPHRASE).partition(b"\n")[0]
    assert {key: json.loads(head)[key] for key in "nrp"} == {"n": 2**15, "r": 8, "p": 3}


def test_old_unfinished_copies_are_cleared_and_what_is_under_way_is_not(tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    for text in ("rearing-2026-11-01-020000.part", f"{CopyName.at(T0)}.part", "mine.part"):
        (stick / text).mkdir(parents=True)
    FolderTarget(stick, "yard").clear_unfinished(T0 + 5 * MS_PER_MINUTE)
    left = {path.name for path in stick.iterdir()}
    assert left == {f"{CopyName.at(T0)}.part", "mine.part"}


def test_what_came_of_bits_that_fell_over_is_said(site: CopiedSite, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    target = FolderTarget(stick, "yard")
    target.prepare()
    name = copied(site, target)
    file = stick / name.text / content.DATABASE
    text = bytearray(file.read_bytes())
    text[len(text) // 2] ^= 1
    file.write_bytes(text)
    with pytest.raises(CopyError, match=r"the copy is not whole. rearing.sqlite is not as it was written."):
        target.fetch(name, tmp_path / "back")
    (stick / name.text / content.MANIFEST).write_text("{")
    with pytest.raises(CopyError, match=r"manifest.json is damaged"):
        target.fetch(name, tmp_path / "back-2")


def test_what_was_brought_home_from_an_address_is_read_as_a_folder(site: CopiedSite, tmp_path: Path) -> None:
    """There the database lies compressed."""
    far = RemoteTarget.of(CopyPlace(id="far", url=f"file://{tmp_path / 'far'}"), "yard")
    far.prepare()
    name = copied(site, far)
    manifest = FolderTarget(tmp_path / "far", None).fetch(name, tmp_path / "back")
    assert manifest == far.manifest(name)
    assert content.missing_photos(tmp_path / "back", manifest) == ()


def test_what_was_carried_from_a_folder_to_an_address_is_read_there(site: CopiedSite, tmp_path: Path) -> None:
    (tmp_path / "stick").mkdir()
    target = FolderTarget(tmp_path / "stick", "yard")
    target.prepare()
    name = copied(site, target)
    far = RemoteTarget.of(CopyPlace(id="given", url=f"file://{tmp_path / 'stick'}"), None)
    assert far.list_copies() == (name,)
    manifest = far.fetch(name, tmp_path / "back")
    assert manifest == target.manifest(name)
    assert content.missing_photos(tmp_path / "back", manifest) == ()


def test_a_copy_that_lacks_a_file_is_not_whole(site: CopiedSite, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    target = FolderTarget(stick, "yard")
    target.prepare()
    name = copied(site, target)
    (stick / name.text / content.DATABASE).unlink()
    with pytest.raises(CopyError, match=r"not whole. rearing.sqlite cannot be read \(No such file"):
        target.fetch(name, tmp_path / "back")


def test_a_copy_of_the_first_releases_comes_in_the_form_of_now(site: CopiedSite, tmp_path: Path) -> None:
    from monitor.store import copies

    stick = tmp_path / "stick"
    stick.mkdir()
    copies.prepare(stick, "yard")
    copies.write_copy(site.store.database, site.settings_file, stick / "rearing-2026-11-20.sqlite")
    target = target_at(str(stick))
    [name] = target.list_copies()
    manifest = target.fetch(name, tmp_path / "back")
    assert (name.is_old, manifest.site, manifest.newest_reading_ms) == (True, "yard", T0)
    assert content.missing_photos(tmp_path / "back", manifest) == ()
    assert content.check_copy(tmp_path / "back") == manifest


@pytest.mark.parametrize(
    ("text", "by_hand", "is_old"),
    [
        ("rearing-2026-11-26-013000", False, False),
        ("rearing-2026-11-26-013000-by-hand", True, False),
        ("rearing-2026-11-26.sqlite", False, True),
        ("rearing-20261126-013000.sqlite", True, True),
    ],
)
def test_names_say_when_and_how(text: str, by_hand: bool, is_old: bool) -> None:
    name = CopyName.parsed(text)
    assert name is not None
    assert (name.text, name.by_hand, name.is_old) == (text, by_hand, is_old)
    if not is_old:
        assert CopyName.at(name.made_at_ms, by_hand=by_hand) == name


@pytest.mark.parametrize("text", ["rearing-2026-13-26-013000", "rearing-photos", MARKER, "rearing.sqlite"])
def test_other_names_are_none_of_copies(text: str) -> None:
    assert CopyName.parsed(text) is None


def test_a_missing_library_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib

    def missing(name: str) -> object:
        if name == "s3fs":
            raise ImportError(name)
        return real(name)

    real = importlib.import_module
    monkeypatch.setattr(importlib, "import_module", missing)
    target = RemoteTarget.of(CopyPlace(id="away", url="s3://bucket/folder"), "yard")
    with pytest.raises(CopyError, match=r"need the library s3fs, which is not installed.*pip install s3fs"):
        target.list_copies()


def test_a_manifest_cannot_name_files_outside_of_its_copy(site: CopiedSite, tmp_path: Path) -> None:
    from dataclasses import replace

    stick = tmp_path / "stick"
    stick.mkdir()
    target = FolderTarget(stick, "yard")
    target.prepare()
    manifest = content.read_manifest(stick / copied(site, target).text)
    for path in ("../farm.toml", "/etc/passwd", "a/../../b"):
        evil = replace(manifest, files=(replace(manifest.files[0], path=path),))
        with pytest.raises(CopyError, match="is damaged"):
            content.manifest_of(content.manifest_text(evil).encode(), "it")


class Recorder:
    """Stands for fsspec: notes how a file system is opened."""

    def __init__(self) -> None:
        self.given: dict[str, object] = {}

    def filesystem(self, kind: str, **options: object) -> object:
        self.given = {"kind": kind, **options}
        return object()


@pytest.mark.parametrize(
    ("url", "folder", "expected"),
    [
        (
            "s3://bucket/rearing",
            "bucket/rearing",
            {"kind": "s3", "key": "me", "secret": "hush", "anon": False},
        ),
        (
            "webdav://host.example:8443/rearing",
            "",
            {"kind": "webdav", "base_url": "https://host.example:8443/rearing", "auth": ("me", "hush")},
        ),
    ],
)
def test_user_password_and_options_are_given_as_each_library_names_them(
    url: str, folder: str, expected: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    fsspec_stand_in = Recorder()
    monkeypatch.setattr(remote, "_library", lambda *_: fsspec_stand_in)
    written = {"id": "away", "url": url, "username": "me", "password": "hush", "options": {"anon": False}}
    _, found = remote.open_place(CopyPlace.model_validate(written))
    assert found == folder
    assert fsspec_stand_in.given | expected == fsspec_stand_in.given
    assert fsspec_stand_in.given["skip_instance_cache"] is True, "a dead connection would be kept"


def test_a_copy_of_a_later_version_names_it(site: CopiedSite, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    target = FolderTarget(stick, "yard")
    target.prepare()
    path = stick / copied(site, target).text / content.MANIFEST
    plain = json.loads(path.read_text())
    path.write_text(json.dumps(plain | {"format": 2, "program": "0.9.0"}))
    with pytest.raises(CopyError, match=r"a later version of this program \(0.9.0\). To mend: install that"):
        content.read_manifest(path.parent)
    with pytest.raises(CopyError, match=r"is no copy of a site: it holds no manifest.json"):
        content.read_manifest(tmp_path)
