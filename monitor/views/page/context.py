"""What the page needs from the program around it, and its own small secrets."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from monitor.settings.plan import Plan
from monitor.settings.writing import place_node
from monitor.store import Store
from monitor.views.page.foresight import Foresight
from monitor.views.page.live import LiveFeed
from monitor.views.page.once import Once
from monitor.views.page.sessions import Role

KEY_NAME, LINK_KEY_NAME, HELPER_NAME = "page_key", "link_key", "page_helper_password"
_KEY_BYTES = 32


def _nothing() -> None:
    return None


def kept_key(store: Store, name: str) -> bytes:
    """The key of that name from the store, made and kept when it is asked for the first time."""
    with store.database.write():
        known = store.meta.get(name)
        if known is None:
            known = secrets.token_hex(_KEY_BYTES)
            store.meta.put(name, known)
    return bytes.fromhex(known)


@dataclass(slots=True)
class PageContext:
    """`password` is the hash of the owner's password; `environ` holds what the settings file refers to."""

    store_path: Path
    plan: Callable[[], Plan]
    clock: Callable[[], int]
    password: str
    settings_path: Path | None = None
    request_reload: Callable[[], None] = _nothing
    environ: Mapping[str, str] = field(default_factory=lambda: os.environ)
    invented: bool = False
    wait_s: float = 3.0
    feed: LiveFeed = field(default_factory=LiveFeed)
    foresight: Foresight = field(default_factory=Foresight)
    once: Once = field(default_factory=Once)
    link_key: bytes = b""
    _key: bytes = b""
    _helper: str | None = None

    def prepare(self) -> None:
        """Read the page's own secrets from the store; the first time, make them."""
        with self.writing() as store:
            self._key, self.link_key = kept_key(store, KEY_NAME), kept_key(store, LINK_KEY_NAME)
            self._helper = store.meta.get(HELPER_NAME) or None

    def reading(self) -> Store:
        """The store for one answer."""
        return Store.read_only(self.store_path)

    def writing(self) -> Store:
        """The store for one short change."""
        return Store.open(self.store_path, create=False, check=False)

    @property
    def helper_password(self) -> str | None:
        """The hash of the helpers' password, or None while helpers cannot log in."""
        return self._helper

    def change_helper_password(self, hashed: str | None) -> None:
        """Give the helpers a password, or take it away; either way their sessions end."""
        with self.writing() as store:
            store.meta.put(HELPER_NAME, hashed or "")
        self._helper = hashed

    def key_for(self, role: Role) -> bytes:
        """The key that signs the cookies of a role: another one with each new password."""
        words = {Role.OWNER: self.password, Role.HELPER: self._helper or "", Role.VISITOR: ""}
        return hmac.digest(self._key, f"{role} {words[role]}".encode(), hashlib.sha256)

    def place_node(self, node: str, place: str) -> None:
        """Write the place of a board into the settings file and have it read again."""
        if self.settings_path is None:
            raise RuntimeError("the page was given no settings file")
        place_node(self.settings_path, node, place, self.environ)
        self.request_reload()
