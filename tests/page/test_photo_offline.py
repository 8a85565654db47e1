"""A photo that was taken without a connection waits on the phone with its form, and comes once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import pytest
from browser import Tab, phone_at
from page_farm import PageFarm
from photo_phone import Book, camera_photo, choose, is_only_a_picture

from monitor.farm.entries import EntryWriter
from monitor.logbook.bin_entries import BinEntryKind
from monitor.page.server import PageServer
from monitor.records import MS_PER_DAY, MS_PER_MINUTE

if TYPE_CHECKING:
    from playwright.sync_api import Route

pytest.importorskip("playwright.sync_api")
pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.timeout(240)]

NAME = "farm.test"
STIR = "/bins/bin-1/write?what=stir"


class Losing:
    """Loses the first answer to a form with a photo: it was written, but nobody hears of it."""

    def __init__(self, port: int) -> None:
        self.port, self.lost, self.photos = port, 0, 0

    def __call__(self, route: Route) -> None:
        request = route.request
        body = request.post_data_buffer or b""
        self.photos += b'name="photo"' in body
        if self.lost or b'name="photo"' not in body:
            route.continue_()
            return
        headers = {**request.all_headers(), "host": f"{NAME}:{self.port}"}
        address = request.url.replace(NAME, "127.0.0.1")
        answer = httpx.post(address, content=body, headers=headers, trust_env=False)
        assert answer.json()["state"] == "done"
        self.lost += 1
        route.abort()


def test_without_a_connection_the_photo_waits_on_the_phone_and_comes_once(
    page_farm: PageFarm, tmp_path: Path
) -> None:
    """The browser is closed and opened in between; one answer is lost."""
    now_ms = page_farm.clock()
    writer = EntryWriter(page_farm.service.store, page_farm.plan(), "Ann", now_ms)
    fill = {"kg": 20.0, "moisture": 0.65, "surface_m2": 0.24}
    writer.write("bin-1", BinEntryKind.FILL, now_ms - MS_PER_DAY, fill)
    book, server = Book(page_farm), PageServer(page_farm.context, port=0)
    server.start()
    port = int(server.address.rpartition(":")[2])
    address = f"http://{NAME}:{port}"
    try:
        with phone_at(tmp_path, NAME) as phone:
            page = phone.new_page()
            Tab(page, address).log_in()
            page.goto(address + STIR)
            camera = camera_photo(page)
            phone.set_offline(True)
            page.locator("input[name=note]").fill("flies on the lid")
            choose(page, camera)
            page.get_by_role("button", name="Write it down").click()
            page.locator(".kept").wait_for()
            page.locator("#waiting summary").click()
            assert "With a photo" in page.locator("#waiting").inner_text()
            assert page.locator(".photo canvas").count() == 0
        made_ms = page_farm.clock()
        page_farm.clock.now_ms += 30 * MS_PER_MINUTE
        assert not book.kinds()
        with phone_at(tmp_path, NAME) as phone:
            losing = Losing(port)
            phone.route("**/bins/**", losing)
            page = phone.new_page()
            page.goto(address)
            page.wait_for_function("() => document.getElementById('waiting').hidden", timeout=30_000)
            assert losing.lost == 1 and losing.photos >= 2
    finally:
        server.stop()
    assert book.kinds() == ["stir"]
    (photo,) = book.photos()
    assert (photo.width, photo.height) == (1200, 1600) and photo.size_bytes <= 300_000
    assert is_only_a_picture(book.content(photo))
    entry = book.store.logbook.one(photo.entry_id)
    assert entry is not None and entry.body["note"] == "flies on the lid"
    assert abs(entry.at_ms - made_ms) < 40 * MS_PER_MINUTE
