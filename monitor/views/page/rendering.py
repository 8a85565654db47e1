"""Templates to pages; everything that comes from a person or a payload is escaped."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from monitor.views.page.catalogue import LANGUAGES

if TYPE_CHECKING:
    from monitor.views.page.serving import Asked

_TYPES = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
}


@dataclass(frozen=True, slots=True)
class StaticFile:
    """A file of the page, read once; its version is a part of its address."""

    content: bytes
    media_type: str
    version: str


def static_files() -> Mapping[str, StaticFile]:
    """The files that anybody may have: there are no others, so no path leads anywhere else."""
    folder = resources.files("monitor.views.page").joinpath("static")
    return {name: _static(folder.joinpath(name).read_bytes(), kind) for name, kind in _TYPES.items()}


def _static(content: bytes, media_type: str) -> StaticFile:
    return StaticFile(content, media_type, hashlib.sha256(content).hexdigest()[:12])


class Renderer:
    """The templates, compiled once."""

    def __init__(self, files: Mapping[str, StaticFile]) -> None:
        self._environment = Environment(
            loader=PackageLoader("monitor.views.page", "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        addresses = {name: f"/static/{name}?v={file.version}" for name, file in files.items()}
        self._environment.globals.update(files=addresses, languages=LANGUAGES)

    def page(self, asked: Asked, template: str, status: int, values: Mapping[str, object]) -> Response:
        """A whole page."""
        words = asked.words
        text = self._environment.get_template(template).render(
            w=words,
            t=words.t,
            visit=asked.visit,
            form_token=asked.farm.sessions.form_token(asked.visit),
            parts=asked.farm.parts if asked.visit.known else (),
            path=asked.request.url.path,
            site_title=asked.plan.settings.site.title,
            invented=asked.farm.context.invented,
            **values,
        )
        return HTMLResponse(text, status)


def drawn(svg: str) -> Markup:
    """A drawing of ours, whose words are escaped already."""
    return Markup(svg)
