"""The page for a phone: server-rendered, works without scripts, live with them."""

from monitor.views.page.app import build_app
from monitor.views.page.context import PageContext
from monitor.views.page.passwords import first_password, hash_password
from monitor.views.page.server import PageServer

__all__ = ["PageContext", "PageServer", "build_app", "first_password", "hash_password"]
