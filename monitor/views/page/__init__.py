"""The page for a phone: server-rendered, works without scripts, live with them."""

from monitor.views.page.app import build_app
from monitor.views.page.context import LINK_KEY_NAME, PageContext, kept_key
from monitor.views.page.link_part import link_maker
from monitor.views.page.passwords import first_password, hash_password
from monitor.views.page.server import PageServer

__all__ = [
    "LINK_KEY_NAME",
    "PageContext",
    "PageServer",
    "build_app",
    "first_password",
    "hash_password",
    "kept_key",
    "link_maker",
]
