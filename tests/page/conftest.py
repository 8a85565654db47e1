"""The farm with its page, once for each file of tests, and clients that are logged in or not."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import pytest
from browser import open_chromium
from page_farm import HELPER_PASSWORD, PASSWORD, PageFarm, form_token

from monitor.farm.entries import EntryWriter
from monitor.logbook.bin_entries import BinEntryKind
from monitor.page.security import hash_password
from monitor.page.server import PageServer
from monitor.records import MS_PER_DAY

if TYPE_CHECKING:
    from playwright.sync_api import Browser

LogIn = Callable[..., httpx.Client]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium, without a window."""
    with open_chromium() as browser:
        yield browser


@pytest.fixture(scope="module")
def page_farm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageFarm]:
    """The farm, its service answering requests."""
    farm = PageFarm(Path(tmp_path_factory.mktemp("farm")))
    farm.build()
    with farm.turning():
        yield farm
    farm.close()


@pytest.fixture(scope="module")
def filled(page_farm: PageFarm) -> PageFarm:
    """The same farm, two bins of it full since yesterday."""
    now_ms = page_farm.clock()
    writer = EntryWriter(page_farm.service.store, page_farm.plan(), "Ann", now_ms)
    fill = {"kg": 20.0, "moisture": 0.65, "surface_m2": 0.24}
    for place in ("bin-1", "bin-2"):
        writer.write(place, BinEntryKind.FILL, now_ms - MS_PER_DAY, fill)
    return page_farm


@pytest.fixture
def served(page_farm: PageFarm) -> Iterator[PageServer]:
    """The page on a free port, with nothing remembered from other tests."""
    server = PageServer(page_farm.context, port=0)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def new_client(served: PageServer) -> Iterator[Callable[[], httpx.Client]]:
    """Browsers that know nothing yet."""
    with ExitStack() as stack:

        def new() -> httpx.Client:
            return stack.enter_context(httpx.Client(base_url=served.address, trust_env=False))

        yield new


@pytest.fixture
def log_in(new_client: Callable[[], httpx.Client], page_farm: PageFarm) -> LogIn:
    """A browser that has logged in, as the owner or as a helper."""

    def logged_in(helper: bool = False, name: str = "Ann") -> httpx.Client:
        if helper and page_farm.context.helper_password is None:
            page_farm.context.change_helper_password(hash_password(HELPER_PASSWORD))
        client = new_client()
        data = {
            "form_token": form_token(client.get("/login").text),
            "password": HELPER_PASSWORD if helper else PASSWORD,
            "name": name,
        }
        assert client.post("/login", data=data).status_code == 303
        return client

    return logged_in


@pytest.fixture
def owner(log_in: LogIn) -> httpx.Client:
    """The owner's browser."""
    return log_in()


@pytest.fixture
def helper(log_in: LogIn) -> httpx.Client:
    """A helper's browser."""
    return log_in(helper=True, name="Ben")
