"""Joins the page to a running service: password, live updates, links in messages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from monitor.page.accounts import link_maker
from monitor.page.context import PageContext
from monitor.page.security import first_password, hash_password
from monitor.page.server import PageServer, refuse_open_door
from monitor.service.service import Service
from monitor.settings.schema import Settings
from monitor.settings.writing import write_secret
from monitor.store import Store
from monitor.store.meta import OWNER_PASSWORD

PASSWORD_FILE = "page-password.txt"


class PageDoor:
    """The page of one service. Made before the service starts, since messages carry links into it."""

    def __init__(self, settings: Settings, settings_path: Path | None, invented: bool = False) -> None:
        refuse_open_door(settings.page.listen, settings.page.password is not None)
        self._settings, self._path, self._invented = settings, settings_path, invented
        self._service: Service | None = None
        self._server: PageServer | None = None
        self.first_password = ""
        self.password_file: Path | None = None

    def open(self, service: Service, clock: Callable[[], int]) -> str:
        """Begin to serve; gives the address."""
        self._service = service
        context = PageContext(
            store_path=service.store.path,
            plan=lambda: service.processor.site.plan,
            clock=clock,
            password=self._password(service.store),
            settings_path=self._path,
            request_reload=service.reload_soon,
            invented=self._invented,
            ask=service.processor.desk.ask,
            outcome=service.processor.desk.outcome,
        )
        context.prepare()
        self._server = PageServer(
            context, self._settings.page.listen, self._settings.page.port, self._settings.page.proxies
        )
        self._server.start()
        return self._server.address

    def note(self, event: object) -> None:
        """Tell open pages that something has happened."""
        if self._server is not None:
            self._server.context.feed.note(event)

    def close(self) -> None:
        if self._server is not None:
            self._server.stop()

    def link_for(self, recipient: str, alarm_id: str) -> str:
        """The address with which a recipient acknowledges an alarm; "" where phones cannot reach the page."""
        public = self._settings.page.public_address
        if public is None or self._service is None or self._server is None:
            return ""
        state = self._service.processor.site.state(alarm_id)
        context = self._server.context
        link = link_maker(context.link_key, public, lambda _: state.since_ms, context.clock)
        return link(recipient, alarm_id)

    def _password(self, store: Store) -> str:
        """The hash of the owner's password: of the settings, else the stored one, else of a new first one."""
        given = self._settings.page.password
        if given is not None:
            return hash_password(given.get_secret_value())
        stored = store.meta.get(OWNER_PASSWORD)
        if stored is not None and not self._invented:
            return stored
        self.first_password = first_password()
        hashed = hash_password(self.first_password)
        store.meta.put(OWNER_PASSWORD, hashed)
        if not self._invented:
            self.password_file = store.path.parent / PASSWORD_FILE
            write_secret(self.password_file, self.first_password)
        return hashed
