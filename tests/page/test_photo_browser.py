"""A photo of a phone's camera in a real browser: made small there, and without scripts."""

from __future__ import annotations

import base64
import gzip
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING
from urllib.parse import urljoin

import httpx
import pytest
from browser import PHONE, Tab
from page_farm import PageFarm
from photo_files import GPS, exif, jpeg
from photo_phone import Book, camera_photo, choose, is_only_a_picture, of_camera

from monitor.page.server import PageServer

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext

pytest.importorskip("playwright.sync_api")
pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(240)]

STIR = "/bins/bin-1/write?what=stir"


@pytest.fixture(scope="module")
def camera(chromium: Browser) -> bytes:
    """Twelve million dots with noise, dark on the left; held upright, with place and time of the camera."""
    page = chromium.new_page()
    photo = camera_photo(page)
    page.close()
    return photo


@pytest.fixture
def server(filled: PageFarm) -> Iterator[PageServer]:
    """Its page."""
    served = PageServer(filled.context, port=0)
    served.start()
    yield served
    served.stop()


NewTab = Callable[..., Tab]


@pytest.fixture
def new_tab(chromium: Browser, server: PageServer) -> Iterator[NewTab]:
    """A tab that has logged in."""
    contexts: list[BrowserContext] = []

    def new(scripts: bool = True, scheme: str = "light") -> Tab:
        contexts.append(
            chromium.new_context(
                viewport=PHONE,  # type: ignore[arg-type]
                color_scheme=scheme,  # type: ignore[arg-type]
                java_script_enabled=scripts,
                locale="en-GB",
            )
        )
        tab = Tab(contexts[-1].new_page(), server.address)
        tab.log_in()
        return tab

    yield new
    for context in contexts:
        context.close()


@pytest.fixture
def book(filled: PageFarm) -> Book:
    return Book(filled)


def test_a_photo_of_the_camera_is_made_small_on_the_phone(
    new_tab: NewTab, book: Book, camera: bytes, server: PageServer
) -> None:
    tab = new_tab()
    page, sent = tab.page, list[bytes]()
    page.on(
        "request", lambda each: sent.append(each.post_data_buffer or b"") if each.method == "POST" else None
    )
    page.goto(server.address + STIR)
    assert page.locator(".photo canvas").count() == 0
    choose(page, camera)
    assert page.locator(".photo canvas").count() == 1
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    (photo,) = book.photos()
    # Held upright by its camera, so it is higher than wide; nothing larger left the phone.
    assert (photo.width, photo.height) == (1200, 1600) and photo.has_small
    assert photo.size_bytes <= 300_000 and len(sent[-1]) < 320_000 and GPS not in sent[-1]
    assert is_only_a_picture(book.content(photo))
    image = page.locator(".thumb img").first
    image.scroll_into_view_if_needed()
    page.wait_for_function("document.querySelector('.thumb img').naturalWidth > 0")
    assert image.evaluate("each => [each.width, each.height]") == [54, 72]
    image.click()
    page.wait_for_url("**/photos/*")
    page.wait_for_function("document.querySelector('.whole img').naturalWidth === 1200")
    assert tab.overflow() == 0 and tab.complaints == []


def test_a_form_that_is_sent_at_once_waits_for_its_photo(
    new_tab: NewTab, book: Book, camera: bytes, server: PageServer
) -> None:
    page = new_tab().page
    page.goto(server.address + STIR)
    page.locator("input[name=photo]").set_input_files(of_camera(camera))
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    assert [photo.height for photo in book.photos()] == [1600]


def test_what_no_phone_can_read_goes_without_a_photo_and_says_so(
    new_tab: NewTab, book: Book, server: PageServer
) -> None:
    page = new_tab().page
    page.goto(server.address + STIR)
    choose(page, b"\x00\x00\x00\x18ftypheic" + bytes(5000), "image/heic")
    assert "cannot be read on this phone" in page.locator(".photo").inner_text()
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    assert book.kinds() == ["stir"] and not book.photos()


def test_a_picture_of_another_kind_becomes_a_jpeg(new_tab: NewTab, book: Book, server: PageServer) -> None:
    page = new_tab().page
    page.goto(server.address + STIR)
    drawn = page.evaluate(
        "() => { const each = document.createElement('canvas'); each.width = 500; each.height = 300;"
        " each.getContext('2d').fillRect(0, 0, 99, 99); return each.toDataURL('image/png').split(',')[1]; }"
    )
    choose(page, base64.b64decode(drawn), "image/png")
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    assert [(photo.width, photo.height) for photo in book.photos()] == [(500, 300)]


def test_a_question_keeps_the_photo(new_tab: NewTab, book: Book, camera: bytes, server: PageServer) -> None:
    page = new_tab().page
    page.goto(server.address + "/bins/bin-1/write?what=water")
    page.locator("input[name=kg]").fill("90")
    choose(page, camera)
    page.get_by_role("button", name="Write it down").click()
    page.get_by_role("button", name="Change").click()
    page.get_by_text("Your photo goes with it").wait_for()
    page.locator("input[name=kg]").fill("95")
    page.get_by_role("button", name="Write it down").click()
    page.get_by_role("button", name="Yes").click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    assert book.kinds() == ["water"] and len(book.photos()) == 1


def test_without_scripts_a_small_photo_goes_and_a_large_one_is_refused(
    new_tab: NewTab, book: Book, camera: bytes, server: PageServer
) -> None:
    page = new_tab(scripts=False).page
    page.goto(server.address + STIR)
    assert "at most 300 kB" in page.locator(".photo").inner_text()
    page.locator("input[name=note]").fill("mould at the rim")
    page.locator("input[name=photo]").set_input_files(of_camera(camera))
    page.get_by_role("button", name="Write it down").click()
    assert "at most 300 kB are taken" in page.locator("main").inner_text()
    assert page.locator("input[name=note]").input_value() == "mould at the rim"
    assert not book.kinds()
    page.locator("input[name=photo]").set_input_files(of_camera(jpeg(800, 600, before=exif())))
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    (photo,) = book.photos()
    assert (photo.width, photo.height) == (800, 600) and is_only_a_picture(book.content(photo))
    page.locator(".thumb").first.click()
    page.wait_for_url("**/photos/*")
    assert page.locator(".whole img").count() == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_one_quiet_line_that_a_wet_finger_meets(new_tab: NewTab, server: PageServer, scheme: str) -> None:
    tab = new_tab(scheme=scheme)
    tab.page.goto(server.address + STIR)
    line = tab.page.locator(".photo-add")
    box = line.bounding_box()
    assert box is not None and box["height"] >= 44
    assert tab.page.locator(".photo").bounding_box()["height"] < 80  # type: ignore[index]
    assert tab.overflow() == 0


def test_pages_stay_light(new_tab: NewTab, server: PageServer, book: Book) -> None:
    """As it goes over the air: Now has nothing of photos, a full list of them stays below 100 kB."""
    tab = new_tab()
    page = tab.page
    for seed in range(10):
        page.goto(server.address + STIR)
        choose(page, jpeg(1600, 1200, seed=seed))
        page.get_by_role("button", name="Write it down").click()
        page.wait_for_url("**/bins/bin-1?wrote=*")
    assert len(book.photos()) == 10
    smalls = [book.store.photos.small(photo.entry_id) or b"" for photo in book.photos()]
    assert all(0 < len(small) <= 6000 for small in smalls)
    tab.requested.clear()
    page.goto(server.address + "/logbook", wait_until="networkidle")
    cookies = {each["name"]: each["value"] for each in page.context.cookies()}
    total = 0
    for url in dict.fromkeys(tab.requested):
        if url.endswith("/live"):
            continue
        answer = httpx.get(urljoin(server.address, url), cookies=cookies, trust_env=False)
        total += (
            len(answer.content)
            if "image" in answer.headers["content-type"]
            else len(gzip.compress(answer.content))
        )
    assert total < 100_000
    tab.requested.clear()
    page.goto(server.address + "/", wait_until="networkidle")
    assert not [url for url in tab.requested if "photo" in url]


def test_a_photo_that_was_chosen_can_be_left_out(new_tab: NewTab, book: Book, server: PageServer) -> None:
    page = new_tab().page
    page.goto(server.address + STIR)
    choose(page, jpeg(800, 600))
    page.get_by_role("button", name="Leave the photo out").click()
    assert page.locator(".photo canvas").count() == 0
    page.locator("input[name=note]").fill("without a photo")
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/bins/bin-1?wrote=*")
    assert len(book.kinds()) == 1 and not book.photos()


def test_the_page_behind_a_place_keeps_a_photo_that_was_chosen(
    new_tab: NewTab, server: PageServer, filled: PageFarm
) -> None:
    """Something changes at the farm meanwhile; the page shows it anew only where nothing is chosen."""
    filled.context.feed.look_s = 0.05
    page = new_tab().page
    page.goto(server.address + "/places/tray-1")
    choose(page, jpeg(800, 600))
    page.locator("h1").click()
    filled.context.feed.note()
    page.wait_for_timeout(1500)
    assert page.locator(".photo canvas").count() == 1
