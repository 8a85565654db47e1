"""The page joined to a running service: its password, its address, its links."""

from __future__ import annotations

import stat

import httpx
import pytest
from page_farm import PASSWORD, PageFarm
from pydantic import SecretStr

from monitor.errors import UsageError
from monitor.page.security import matches
from monitor.records import AlarmEvent
from monitor.service.page_door import PASSWORD_FILE, PageDoor
from monitor.settings.schema import Settings
from monitor.store.meta import OWNER_PASSWORD


def with_page(page_farm: PageFarm, port: int, **more: object) -> Settings:
    """The farm's settings with other keys of [page]."""
    settings = page_farm.service.settings
    page = settings.page.model_copy(update={"enabled": True, "password": None, "port": port, **more})
    return settings.model_copy(update={"page": page})


def test_without_a_password_one_is_made_up_kept_and_readable_by_its_owner_only(
    page_farm: PageFarm, free_port: int
) -> None:
    door = PageDoor(with_page(page_farm, free_port), None)
    address = door.open(page_farm.service, page_farm.clock)
    assert httpx.get(f"{address}/login").status_code == 200
    door.close()
    file = page_farm.service.store.path.parent / PASSWORD_FILE
    assert door.password_file == file
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert file.read_text().strip() == door.first_password
    assert matches(door.first_password, page_farm.service.store.meta.get(OWNER_PASSWORD))
    again = PageDoor(with_page(page_farm, free_port), None)
    again.open(page_farm.service, page_farm.clock)
    again.close()
    assert again.first_password == ""


def test_a_page_for_the_network_needs_a_password(page_farm: PageFarm, free_port: int) -> None:
    with pytest.raises(UsageError, match="without a password"):
        PageDoor(with_page(page_farm, free_port, listen="0.0.0.0"), None)
    PageDoor(with_page(page_farm, free_port, listen="0.0.0.0", password=SecretStr(PASSWORD)), None)


def test_links_are_made_only_where_phones_reach_the_page(page_farm: PageFarm, free_port: int) -> None:
    alarm = next(name for name, state in page_farm.service.processor.site.states.items() if state.active)
    closed = PageDoor(with_page(page_farm, free_port), None)
    closed.open(page_farm.service, page_farm.clock)
    assert closed.link_for("keeper", alarm) == ""
    closed.close()
    reached = PageDoor(with_page(page_farm, free_port, public_address="https://farm.example"), None)
    assert reached.link_for("keeper", alarm) == ""
    address = reached.open(page_farm.service, page_farm.clock)
    link = reached.link_for("keeper", alarm)
    assert link.startswith("https://farm.example/a/")
    assert httpx.get(address + link.removeprefix("https://farm.example")).status_code == 200
    reached.close()


def test_the_button_on_a_message_of_a_phone_needs_no_public_address(
    page_farm: PageFarm, free_port: int
) -> None:
    alarm = next(name for name, state in page_farm.service.processor.site.states.items() if state.active)
    door = PageDoor(with_page(page_farm, free_port), None)
    address = door.open(page_farm.service, page_farm.clock)
    path = door.link_for("keeper#3", alarm)
    assert path.startswith("/a/")
    assert httpx.get(address + path).status_code == 200
    assert httpx.post(address + path).status_code == 200
    assert httpx.post(address + path).status_code == 410
    told = page_farm.service.store.journal.last(50, alarm)
    assert [row.actor for row in told if row.event is AlarmEvent.ACKNOWLEDGE] == ["keeper"]
    door.close()
