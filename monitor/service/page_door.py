"""Joins the page to a running service: password, live updates, links in messages."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding

from monitor.boards import certificates
from monitor.errors import UsageError
from monitor.notify.policy import person_of, phone_of
from monitor.page.accounts import link_maker
from monitor.page.context import PageContext
from monitor.page.security import first_password, hash_password
from monitor.page.server import Encrypted, PageServer, refuse_open_door
from monitor.records import MS_PER_SECOND
from monitor.service.page_setup import renewed
from monitor.service.service import Service
from monitor.settings.schema import Settings
from monitor.settings.writing import write_secret
from monitor.store import Store
from monitor.store.meta import OWNER_PASSWORD

log = logging.getLogger(__name__)

PASSWORD_FILE = "page-password.txt"
PATIENCE_S = 0.05
"""How long the list of cohorts waits for what its newest entry changes; it follows by itself. Own choice."""


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
            patience_s=PATIENCE_S,
            ask=service.processor.desk.ask,
            outcome=service.processor.desk.outcome,
            phones_changed=service.people.changed.set,
        )
        context.prepare()
        page = self._settings.page
        encrypted = self._encrypted(clock())
        if encrypted is not None:
            authority = certificates.ca_certificate(self._settings.broker.boards_folder)
            context.ca = authority.public_bytes(Encoding.DER)
        self._server = PageServer(context, page.listen, page.port, page.proxies, encrypted)
        self._server.start()
        self._server.keep_ready()
        return self._server.address

    @property
    def encrypted_address(self) -> str:
        """Where the page is over HTTPS; "" where it is not."""
        return self._server.encrypted_address if self._server is not None else ""

    def _encrypted(self, now_ms: int) -> Encrypted | None:
        """The port with its certificate; what is wrong with that does not keep the plain page away."""
        port = self._settings.page.https_port
        if port is None:
            return None
        try:
            now = datetime.fromtimestamp(now_ms / MS_PER_SECOND, UTC)
            certificate, key = renewed(self._settings, now)
        except UsageError as error:
            log.error("the page is not served over HTTPS: %s", error)
            return None
        return Encrypted(port, certificate, key)

    def note(self, event: object) -> None:
        """Tell open pages that something has happened."""
        if self._server is not None:
            self._server.context.feed.note(event)

    def close(self) -> None:
        if self._server is not None:
            self._server.stop()

    def link_for(self, recipient: str, alarm_id: str) -> str:
        """The address with which a recipient acknowledges an alarm; "" where phones cannot reach the page.

        The installed page needs no more than a path.
        """
        on_phone = phone_of(recipient) is not None
        public = "" if on_phone else self._settings.page.public_address
        if public is None or self._service is None or self._server is None:
            return ""
        state = self._service.processor.site.state(alarm_id)
        context = self._server.context
        link = link_maker(context.link_key, public, lambda _: state.since_ms, context.clock)
        return link(person_of(recipient), alarm_id)

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
