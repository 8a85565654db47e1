"""A photo with an entry, as the server takes, keeps and shows it; what a browser does stands beside."""

from __future__ import annotations

import re
import socket
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from types import MappingProxyType
from urllib.parse import urlsplit

import httpx
import pytest
from page_farm import PageFarm, form_token
from photo_files import END, GPS, QUANTIZATION, START, exif, frame, jpeg, markers, segment

from monitor.page.photos import MOST_PICTURES
from monitor.records import MS_PER_DAY, LogbookEntry
from monitor.store.photos import EntryPhoto

pytestmark = pytest.mark.usefixtures("filled")

LogIn = Callable[..., httpx.Client]
BIN = "/bins/bin-1/write"
HTML = b"<html><script>alert(1)</script>"


class Book:
    """What stands in the logbook and beside it."""

    def __init__(self, farm: PageFarm) -> None:
        self.store = farm.service.store
        self.before = self.store.logbook.newest_id()

    def written(self) -> list[LogbookEntry]:
        """The entries of this test."""
        return list(self.store.logbook.after(self.before))

    def photos(self) -> dict[int, EntryPhoto]:
        """Their photos."""
        return dict(self.store.photos.of(entry.entry_id or 0 for entry in self.written()))

    def stored(self) -> bytes:
        """The file of the only photo."""
        (photo,) = self.photos().values()
        return self.store.photos.file(photo.name).read_bytes()


@pytest.fixture
def book(page_farm: PageFarm) -> Book:
    """The logbook as it stands before the test."""
    return Book(page_farm)


def handed_in(
    client: httpx.Client,
    photo: bytes | None,
    *,
    path: str = BIN,
    media_type: str = "image/jpeg",
    name: str = "photo.jpg",
    small: bytes = b"",
    scripted: bool = False,
    fields: Mapping[str, str] = MappingProxyType({}),
    **more: str,
) -> httpx.Response:
    """A stirring with a photo, as a browser sends it."""
    token = form_token(client.get("/bins/bin-1/write?what=stir").text)
    data = {"form_token": token, "kind": "stir", **fields, **more}
    files = {} if photo is None else {"photo": (name, photo, media_type)}
    if small:
        files["photo_small"] = ("photo.jpg", small, "image/jpeg")
    headers = {"accept": "application/json"} if scripted else {}
    return client.post(path, data=data, files=files, headers=headers)


def hidden(page: str, name: str) -> str:
    """A hidden field of a page."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    return found[1] if found else ""


def test_a_photo_goes_with_its_entry_and_nothing_but_the_picture_is_stored(
    owner: httpx.Client, book: Book
) -> None:
    photo = jpeg(640, 480, before=exif() + segment(0xFE, HTML), after=HTML)
    answer = handed_in(owner, photo, small=jpeg(160, 120, before=exif()))
    assert answer.status_code == 303
    ((number, kept),) = book.photos().items()
    assert (kept.width, kept.height) == (640, 480)
    small = book.store.photos.small(number)
    assert small is not None
    for stored in (book.stored(), small):
        assert markers(stored) == [0xD8, 0xE0, 0xDB, 0xC0, 0xC4, 0xC4, 0xDA, 0xD9]
        for secret in (GPS, b"Exif", b"phone of somebody", HTML):
            assert secret not in stored
    assert [entry.kind for entry in book.written()] == ["stir"]


def test_it_is_shown_small_beside_its_entry_and_a_tap_shows_it_whole(owner: httpx.Client, book: Book) -> None:
    handed_in(owner, jpeg(640, 480, seed=1), small=jpeg(160, 120))
    ((number, _),) = book.photos().items()
    for page in ("/logbook", "/bins/bin-1"):
        text = owner.get(page).text
        assert f'href="/photos/{number}"' in text
        assert f'<img src="/photos/{number}/small.jpg" width="72" height="54"' in text
    whole = owner.get(f"/photos/{number}").text
    assert f'<img src="/photos/{number}/full.jpg" width="640" height="480"' in whole and "Ann" in whole
    assert owner.get(f"/photos/{number}/full.jpg").content == book.stored()


def test_without_a_small_one_a_word_leads_to_it(owner: httpx.Client, book: Book) -> None:
    handed_in(owner, jpeg(640, 480, seed=2))
    handed_in(owner, jpeg(640, 480, seed=2), small=b"no jpeg")
    text = owner.get("/logbook").text
    for number in book.photos():
        assert re.search(rf'href="/photos/{number}">Photo', text)
        assert owner.get(f"/photos/{number}/small.jpg").status_code == 404


def test_a_list_shows_few_as_pictures(owner: httpx.Client) -> None:
    for _ in range(MOST_PICTURES + 2):
        handed_in(owner, jpeg(640, 480, seed=3), small=jpeg(16, 16))
    text = owner.get("/logbook").text
    assert text.count("<img") == MOST_PICTURES
    assert text.count('class="thumb"') >= MOST_PICTURES + 2


def test_its_headers_let_nothing_run_and_nobody_else_keep_it(owner: httpx.Client, book: Book) -> None:
    handed_in(owner, jpeg(64, 48, seed=4))
    ((number, _),) = book.photos().items()
    answer = owner.get(f"/photos/{number}/full.jpg")
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "private, no-cache"
    assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
    again = owner.get(f"/photos/{number}/full.jpg", headers={"if-none-match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_who_has_not_logged_in_sees_none_and_brings_none(
    owner: httpx.Client, new_client: Callable[[], httpx.Client], book: Book
) -> None:
    handed_in(owner, jpeg(64, 48, seed=5))
    ((number, _),) = book.photos().items()
    stranger = new_client()
    for path in (f"/photos/{number}", f"/photos/{number}/full.jpg", f"/photos/{number}/small.jpg"):
        answer = stranger.get(path)
        assert answer.status_code == 303 and answer.headers["location"].startswith("/login")
    files = {"photo": ("photo.jpg", jpeg(64, 48, seed=6), "image/jpeg")}
    answer = stranger.post(BIN, data={"kind": "stir"}, files=files)
    assert (answer.status_code, answer.headers["location"]) == (303, "/login")
    owner.post("/logout", data={"form_token": form_token(owner.get("/me").text)})
    assert owner.get(f"/photos/{number}/full.jpg").status_code == 303
    assert len(book.written()) == 1


def test_a_helper_brings_and_sees_photos(helper: httpx.Client, book: Book) -> None:
    assert handed_in(helper, jpeg(64, 48, seed=7)).status_code == 303
    ((number, _),) = book.photos().items()
    assert helper.get(f"/photos/{number}/full.jpg").status_code == 200
    assert book.written()[0].author == "Ben"


def test_a_form_of_another_session_is_refused(owner: httpx.Client, helper: httpx.Client, book: Book) -> None:
    token = form_token(helper.get("/bins/bin-1/write?what=stir").text)
    files = {"photo": ("photo.jpg", jpeg(64, 48), "image/jpeg")}
    assert owner.post(BIN, data={"form_token": token, "kind": "stir"}, files=files).status_code == 403
    assert not book.written()


CUT = jpeg(640, 480, before=exif())
HUGE = START + QUANTIZATION + frame(65535, 65535) + segment(0xC4, b"\x00" + bytes(16)) + END


@pytest.mark.parametrize(
    ("photo", "media_type", "said"),
    [
        (HTML, "image/jpeg", "JPEG is taken"),
        (b"\x89PNG\r\n\x1a\n" + bytes(64), "image/png", "JPEG is taken"),
        (jpeg(64, 48), "text/html", "JPEG is taken"),
        (b"RIFF" + bytes(60), "image/webp", "JPEG is taken"),
        (CUT[: len(CUT) // 2], "image/jpeg", "not whole"),
        (HUGE, "image/jpeg", "65535 × 65535 dots"),
        (jpeg(64, 48) + bytes(300_000), "image/jpeg", "at most 300 kB"),
        (jpeg(64, 48) + bytes(4_000_000), "image/jpeg", "at most 300 kB"),
    ],
)
def test_what_is_no_photo_within_bounds_is_refused_and_what_was_typed_stays(
    owner: httpx.Client, book: Book, photo: bytes, media_type: str, said: str
) -> None:
    answer = handed_in(owner, photo, media_type=media_type, note="mould at the rim")
    assert answer.status_code == 400
    assert said in answer.text and 'value="mould at the rim"' in answer.text
    assert not book.written()
    assert not hidden(answer.text, "photo_kept")
    scripted = handed_in(owner, photo, media_type=media_type, scripted=True).json()
    assert scripted["state"] == "refused" and said in " ".join(scripted["said"])


@pytest.mark.parametrize(
    "name", ["../../farm.toml", "/etc/passwd", "a\x00b.jpg", "photo.html", ".", "x" * 1500]
)
def test_the_name_of_a_file_leads_nowhere(
    owner: httpx.Client, book: Book, page_farm: PageFarm, name: str
) -> None:
    before = {path: path.stat().st_mtime_ns for path in page_farm.folder.iterdir() if path.suffix == ".toml"}
    assert handed_in(owner, jpeg(64, 48, seed=8), name=name).status_code == 303
    (photo,) = book.photos().values()
    assert re.fullmatch(r"[0-9a-f]{40}\.jpg", photo.name)
    assert {path: path.stat().st_mtime_ns for path in before} == before


@pytest.mark.parametrize(
    "path",
    ["/photos/../farm.toml", "/photos/1%2f..%2f..", "/photos/x", "/photos/0", "/photos/9999999999999999999"],
)
def test_no_address_leads_to_another_file(owner: httpx.Client, path: str) -> None:
    for tail in ("", "/full.jpg", "/..%2f..%2frearing.jpg"):
        assert owner.get(path + tail).status_code == 404


def test_a_photo_comes_only_where_one_is_taken(owner: httpx.Client, book: Book) -> None:
    """Elsewhere neither a form in parts nor more than 16 kB."""
    token = form_token(owner.get("/me").text)
    files = {"photo": ("photo.jpg", jpeg(64, 48), "image/jpeg")}
    data = {"form_token": token, "alarm": "all"}
    assert owner.post("/alarms/acknowledge", data=data, files=files).status_code == 403
    large = {"photo": ("photo.jpg", jpeg(64, 48) + bytes(20_000), "image/jpeg")}
    assert owner.post("/alarms/acknowledge", data=data, files=large).status_code == 413
    assert owner.post("/login", data=data, files=large).status_code == 413
    assert (
        owner.post(BIN, data={"form_token": token, "kind": "stir", "note": "x" * 20_000}).status_code == 413
    )
    assert not book.written()


def test_the_same_mark_answers_the_same_and_another_photo_is_asked(owner: httpx.Client, book: Book) -> None:
    photo = jpeg(64, 48, seed=9)
    first = handed_in(owner, photo, mark="m-photo-1")
    again = handed_in(owner, photo, mark="m-photo-1")
    assert urlsplit(again.headers["location"]).path == urlsplit(first.headers["location"]).path
    assert handed_in(owner, jpeg(64, 48, seed=10), mark="m-photo-1").status_code == 409
    assert handed_in(owner, None, mark="m-photo-1").status_code == 409
    assert len(book.written()) == len(book.photos()) == 1


def test_a_refused_form_keeps_its_photo(owner: httpx.Client, book: Book) -> None:
    refused = handed_in(owner, jpeg(64, 48, seed=11), kind="water", kg="many")
    assert refused.status_code == 400 and "Your photo goes with it" in refused.text
    kept = hidden(refused.text, "photo_kept")
    assert handed_in(owner, None, kind="water", kg="2", photo_kept=kept).status_code == 303
    assert len(book.photos()) == 1


def test_a_question_keeps_the_photo_and_the_answer_writes_both(owner: httpx.Client, book: Book) -> None:
    photo = jpeg(64, 48, seed=12)
    asked = handed_in(owner, photo, kind="water", kg="90", mark="m-asked")
    assert asked.status_code == 200 and not book.written()
    again = {
        name: hidden(asked.text, name)
        for name in ("form_token", "confirmed", "photo_kept", "kind", "kg", "mark")
    }
    assert all(again.values())
    assert 'name="photo"' not in asked.text
    assert owner.post(BIN, data=again).status_code == 303
    assert len(book.photos()) == 1
    # The same again, by a browser that did not hear the answer; with the photo itself too.
    assert owner.post(BIN, data=again).status_code == 303
    files = {"photo": ("photo.jpg", photo, "image/jpeg")}
    assert owner.post(BIN, data=again, files=files).status_code == 303
    (written,) = book.written()
    data = {"form_token": again["form_token"], "withdraw": "yes"}
    assert owner.post(f"/logbook/{written.entry_id}/correct", data=data).status_code == 303


def test_the_form_that_is_changed_after_a_question_keeps_the_photo_or_leaves_it_out(
    owner: httpx.Client, book: Book
) -> None:
    asked = handed_in(owner, jpeg(64, 48, seed=13), kind="water", kg="90")
    kept = hidden(asked.text, "photo_kept")
    changed = handed_in(owner, None, kind="water", kg="90", change="yes", photo_kept=kept)
    assert "Your photo goes with it" in changed.text
    out = handed_in(
        owner, None, kind="water", kg="2", photo_kept=hidden(changed.text, "photo_kept"), photo_out="on"
    )
    assert out.status_code == 303
    assert len(book.written()) == 1 and not book.photos()


def test_nobody_takes_the_photo_of_another_person(
    owner: httpx.Client, helper: httpx.Client, book: Book
) -> None:
    asked = handed_in(owner, jpeg(64, 48, seed=14), kind="water", kg="90")
    kept = hidden(asked.text, "photo_kept")
    for token in (kept, kept[:-3] + "abc", "x.y", ".", "f" * 32 + "." + "../../farm.toml"):
        refused = handed_in(helper, None, photo_kept=token)
        assert refused.status_code == 400 and "not there any more" in refused.text
    assert not book.written()


def test_what_waited_on_a_phone_with_an_odd_clock_is_asked_with_its_photo(
    owner: httpx.Client, book: Book, page_farm: PageFarm
) -> None:
    made_ms = page_farm.clock() - 29 * MS_PER_DAY
    times = {"made_at_ms": str(made_ms), "sent_at_ms": str(page_farm.clock())}
    asked = handed_in(owner, jpeg(64, 48, seed=15), mark="m-odd", fields=times)
    assert asked.status_code == 200 and not book.written()
    assert hidden(asked.text, "photo_kept") and hidden(asked.text, "confirmed")


def test_a_correction_leaves_the_photo_with_the_first_version_and_may_bring_one(
    owner: httpx.Client, book: Book
) -> None:
    handed_in(owner, jpeg(64, 48, seed=16), kind="water", kg="2")
    ((first, _),) = book.photos().items()
    correct = f"/logbook/{first}/correct"
    assert handed_in(owner, None, path=correct, kg="1.5", kind="water").status_code == 303
    assert list(book.photos()) == [first]
    newer = book.written()[-1].entry_id or 0
    assert (
        handed_in(owner, jpeg(64, 48, seed=17), path=f"/logbook/{newer}/correct", kg="1.5").status_code == 303
    )
    assert len(book.photos()) == 2
    last = book.written()[-1].entry_id or 0
    token = form_token(owner.get(f"/logbook/{last}/correct").text)
    data = {"form_token": token, "withdraw": "yes", "reason": ""}
    assert owner.post(f"/logbook/{last}/correct", data=data).status_code == 303
    assert len(book.photos()) == 2
    assert f'href="/photos/{first}"' in owner.get("/logbook").text


@pytest.fixture
def room(page_farm: PageFarm) -> Iterator[Callable[[int], None]]:
    """Gives photos another room."""
    text = page_farm.settings_path.read_text(encoding="utf-8")

    def give(megabytes: int) -> None:
        line = f"[store]\nphotos_mb = {megabytes}\n"
        page_farm.settings_path.write_text(text.replace("[store]\n", line), encoding="utf-8")
        assert line in page_farm.settings_path.read_text(encoding="utf-8")
        page_farm._reload()

    yield give
    page_farm.settings_path.write_text(text, encoding="utf-8")
    page_farm._reload()


def test_when_the_room_is_full_it_is_said_before_and_nothing_is_lost(
    owner: httpx.Client, book: Book, room: Callable[[int], None], page_farm: PageFarm
) -> None:
    room(1)
    filler = bytes([1]) * 299_000
    for seed in range(3):
        photo = jpeg(64, 48, seed=20 + seed)
        assert handed_in(owner, photo[:-2] + filler + END).status_code == 303
    form = owner.get("/bins/bin-1/write?what=stir").text
    assert "There is no room for more photos" in form and 'name="photo"' not in form
    late = handed_in(owner, jpeg(64, 48, seed=30)[:-2] + filler + END, note="typed")
    assert (
        late.status_code == 400 and "none is deleted by itself" in late.text and 'value="typed"' in late.text
    )
    assert handed_in(owner, None, note="typed").status_code == 303
    assert len(book.photos()) == 3
    room(100)
    assert "room for" not in owner.get("/bins/bin-1/write?what=stir").text
    room(0)
    assert 'type="file"' not in owner.get("/bins/bin-1/write?what=stir").text
    page_farm.service.store.photos.delete(list(book.photos()), page_farm.clock(), "Ann")
    assert "The photo was deleted" in owner.get("/logbook").text
    for number in book.photos():
        assert "The photo was deleted" in owner.get(f"/photos/{number}").text
        assert owner.get(f"/photos/{number}/full.jpg").status_code == 404


def test_half_a_form_writes_nothing(owner: httpx.Client, book: Book) -> None:
    """Whoever leaves in the middle of sending has handed in nothing; with a photo or without."""
    token = form_token(owner.get("/bins/bin-1/write?what=water").text)
    cookie = "; ".join(f"{name}={value}" for name, value in owner.cookies.items())
    address = urlsplit(str(owner.base_url))
    body = f"form_token={token}&kind=water&kg=1".encode()
    head = (
        f"POST {BIN} HTTP/1.1\r\nHost: {address.netloc}\r\nCookie: {cookie}\r\n"
        f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(body) + 1}\r\n\r\n"
    )
    with closing(socket.create_connection((address.hostname or "", address.port or 0))) as connection:
        connection.sendall(head.encode() + body)
        connection.shutdown(socket.SHUT_WR)
        connection.settimeout(5.0)
        while connection.recv(1000):
            pass
    assert not book.written()


@pytest.mark.parametrize("path", ["/bins/bin-1/write?what=feed", "/cohorts/start"])
def test_forms_take_a_photo_with_one_quiet_line(owner: httpx.Client, path: str) -> None:
    text = owner.get(path).text
    assert text.count("<span>Add a photo</span>") == 1
    assert 'enctype="multipart/form-data"' in text
    assert text.index('name="note"') < text.index('name="photo"')


def test_a_place_is_put_aside_with_a_photo(owner: httpx.Client, book: Book, page_farm: PageFarm) -> None:
    text = owner.get("/places/tray-1").text
    assert text.count("<span>Add a photo</span>") == 1 and 'src="/static/photo.js' in text
    fields = {"minutes": "60", "note": "new lamp"}
    answer = handed_in(owner, jpeg(64, 48, seed=40), path="/places/tray-1/aside", fields=fields)
    assert answer.status_code == 303 and len(book.photos()) == 1
    (entry,) = book.written()
    assert (entry.subject, entry.body["note"]) == ("tray-1", "new lamp")
    refused = handed_in(owner, HTML, path="/places/tray-1/aside", fields=fields)
    assert refused.status_code == 400 and "JPEG is taken" in refused.text
    assert len(book.written()) == 1 and page_farm.plan().places["tray-1"]


def test_only_the_owner_puts_aside_with_a_photo_too(helper: httpx.Client, book: Book) -> None:
    answer = handed_in(helper, jpeg(64, 48), path="/places/tray-1/aside", fields={"minutes": "60"})
    assert answer.status_code == 403 and not book.written()
    assert "Add a photo" not in helper.get("/places/tray-1").text
