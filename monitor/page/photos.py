"""A photo that a form brings: read within bounds, cleaned, laid down, and given to the entry that it shows.

With scripts on the phone makes it small; without, it comes as it is and is refused above the limit. A form
that is asked about or refused keeps its photo: it lies in the store already, and the form says so by a signed
word.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.routing import compile_path
from starlette.types import Scope

from monitor.errors import UsageError
from monitor.logbook.photos import (
    FULL_SIZE,
    MOST_KB,
    MOST_SMALL_KB,
    SMALL_SIZE,
    cleaned,
    no_jpeg,
    refuse_too_large,
)
from monitor.page.security import FORM, MOST_BODY_BYTES, BodyBound
from monitor.store import Store
from monitor.store.photos import EntryPhoto, gone_while_waiting

if TYPE_CHECKING:
    from monitor.page.serving import RequestContext

MOST_PHOTO_BODY_BYTES = MOST_BODY_BYTES + (MOST_KB + MOST_SMALL_KB) * 1000 + 2048
"""Of a form with a photo so much is kept, with room for what multipart writes around its parts."""
MOST_DROPPED_BYTES, PHOTO_S = 16_000_000, 60.0
"""Own choice: a photo as a camera makes it is read to its end and dropped, since a browser that is still
sending shows an error of its own in place of what is wrong."""
PHOTO = BodyBound(MOST_PHOTO_BODY_BYTES, MOST_DROPPED_BYTES, PHOTO_S)
STRANGER = BodyBound(0, MOST_DROPPED_BYTES, PHOTO_S)
"""Of somebody who has not logged in nothing is kept."""
KEPT, LEFT_OUT, JPEG = "photo_kept", "photo_out", "image/jpeg"
FEW_LEFT, MOST_PICTURES, SHOWN_DOTS = 100, 8, 72
"""Own choice: from when a form says how many photos fit; how many small ones a page shows, how large."""
_LONGEST_TOKEN = 800
_BOUNDARY = re.compile(r"""boundary="?([0-9A-Za-z'()+_,./:=?-]{1,70})"?""")
_NAME, _FILE = re.compile(r'[; ]name="([^"]*)"'), re.compile(r"; *filename\*?=")
_MEDIA_TYPE = re.compile(r"^content-type: *([^\s;]+)", re.IGNORECASE | re.MULTILINE)
_LONGEST_HEAD = 2000


def bound_for(paths: Iterable[str], is_known: Callable[[Request], bool]) -> Callable[[Scope], BodyBound]:
    """What may come with a request: a photo only to some paths, and only of somebody who has logged in."""
    taking = [compile_path(path)[0] for path in paths]

    def bound_of(scope: Scope) -> BodyBound:
        http = Request(scope)
        brings = scope["method"] == "POST" and is_multipart(http)
        if not brings or not any(path.match(scope["path"]) for path in taking):
            return FORM
        return PHOTO if is_known(http) else STRANGER

    return bound_of


def is_multipart(http: Request) -> bool:
    """Whether a form comes in parts."""
    return http.headers.get("content-type", "").startswith("multipart/form-data")


# A form with a photo (RFC 7578). Names of files are never looked at.


@dataclass(slots=True)
class FormPhoto:
    """The photo that a form brought, as it came; `name` is what it was laid down under since.

    `cut` says that more came than is kept.
    """

    content: bytes = b""
    small: bytes = b""
    media_type: str = ""
    cut: bool = False
    name: str = ""

    @property
    def came(self) -> bool:
        """Whether there is one."""
        return self.cut or bool(self.content)

    @property
    def digest(self) -> str:
        """What tells it from another one."""
        return hashlib.sha256(self.content).hexdigest()[:32] if self.came else ""


def multipart_form(body: bytes, content_type: str, most_fields: int) -> tuple[dict[str, str], FormPhoto]:
    """The fields of a form, and its photo; nothing of one that breaks the rules."""
    fields, photo, size = dict[str, str](), FormPhoto(), 0
    for name, is_file, media_type, content, whole in _parts(body, content_type):
        if is_file:
            _take_file(photo, name, media_type, content, whole)
            continue
        size += len(name) + len(content)
        if not whole or len(fields) >= most_fields or size > MOST_BODY_BYTES:
            return {}, FormPhoto()
        fields[name] = content.decode("utf-8", "replace")
    return fields, photo


def _take_file(photo: FormPhoto, name: str, media_type: str, content: bytes, whole: bool) -> None:
    if name == "photo":
        photo.content, photo.media_type, photo.cut = content, media_type, not whole
    elif name == "photo_small" and whole:
        photo.small = content


def _parts(body: bytes, content_type: str) -> Iterator[tuple[str, bool, str, bytes, bool]]:
    """Name, whether it is a file, its type, its content, and whether all of it is there."""
    named = _BOUNDARY.search(content_type)
    if named is None:
        return
    line = b"--" + named[1].encode("ascii")
    if not body.startswith(line + b"\r\n"):
        return
    at = len(line)
    while body[at : at + 2] == b"\r\n":
        head_end = body.find(b"\r\n\r\n", at, at + _LONGEST_HEAD)
        if head_end < 0:
            return
        head = body[at:head_end].decode("utf-8", "replace")
        end = body.find(b"\r\n" + line, head_end + 4)
        content = body[head_end + 4 : end if end >= 0 else len(body)]
        name, media_type = _NAME.search(head), _MEDIA_TYPE.search(head)
        if name is not None:
            kind = media_type[1].lower() if media_type else ""
            yield name[1], _FILE.search(head) is not None, kind, content, end >= 0
        if end < 0:
            return
        at = end + 2 + len(line)


def typed_photo(form: Mapping[str, str], photo: FormPhoto) -> str:
    """What tells the photo of a form from another one, sent or laid down before; "" for none."""
    return photo.digest or form.get(KEPT, "").partition(".")[0]


# With an entry.


def receive(request: RequestContext) -> None:
    """Lay down the photo of the form, or find the one that was; UsageError where it cannot be kept."""
    photo, kept = request.photo, request.field(KEPT, _LONGEST_TOKEN)
    if request.field(LEFT_OUT):
        return
    if photo.came:
        _lay_down(request, photo)
    elif kept:
        photo.name = request.app.sessions.photo_name(request.session, kept.partition(".")[2])
        if not photo.name or not request.store.photos.waits(photo.name):
            photo.name = ""
            raise gone_while_waiting()


def laid_down(request: RequestContext) -> bool:
    """Whether what the form says of a photo is safe, so that something can be asked first."""
    try:
        receive(request)
    except UsageError:
        return False
    return True


def carried(request: RequestContext) -> list[tuple[str, str]]:
    """What a second step carries along, so that the photo comes with its answer."""
    if not request.photo.name:
        return []
    token = request.app.sessions.photo_token(request.session, request.photo.name)
    return [(KEPT, f"{typed_photo(request.form, request.photo)}.{token}")]


def _lay_down(request: RequestContext, photo: FormPhoto) -> None:
    refuse_too_large(FULL_SIZE.most_bytes + 1 if photo.cut else len(photo.content))
    if photo.media_type != JPEG:
        raise no_jpeg()
    full = cleaned(photo.content)
    small = _small(photo.small)
    with request.app.context.writing() as store:
        photo.name = store.photos.lay_down(full, small, request.now_ms, most_bytes(request))


def _small(content: bytes) -> bytes | None:
    """The small one for lists; without it a word stands there."""
    try:
        return cleaned(content, SMALL_SIZE).content if content else None
    except UsageError:
        return None


@contextmanager
def with_entry(request: RequestContext, store: Store) -> Iterator[None]:
    """Inside one transaction: the photo of the form goes to the first entry that is written."""
    before = store.logbook.newest_id()
    yield
    written = store.logbook.after(before)
    if request.photo.name and written:
        store.photos.take(request.photo.name, written[0].entry_id or 0)


def most_bytes(request: RequestContext) -> int:
    """The room for photos."""
    return request.plan.settings.store.photos_mb * 1_000_000


@dataclass(frozen=True, slots=True)
class PhotoField:
    """What a form says about its photo: `kept` names one that lies in the store, `left` how many more fit.

    `left` is None while there is plenty of room.
    """

    kept: str
    full: bool
    left: int | None


def photo_field(request: RequestContext) -> PhotoField | None:
    """The line of a form that takes a photo; None where the farm takes none."""
    most = most_bytes(request)
    if not most:
        return None
    left = request.store.photos.room(most).left_bytes // FULL_SIZE.most_bytes
    kept = next((token for _, token in carried(request)), "")
    return PhotoField(kept, not left and not kept, left if left < FEW_LEFT else None)


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """The photo of an entry in a list: `small` is the address of the small one, "" where a word stands.

    `gone` says that it was deleted.
    """

    link: str
    small: str
    width: int
    height: int
    gone: str = ""


def photo_rows(request: RequestContext, entries: Sequence[int]) -> Mapping[int, PhotoRow]:
    """The photos of the entries of a page; only the first few of them as pictures, so that it stays light."""
    rows, pictures = dict[int, PhotoRow](), 0
    photos = request.store.photos.of(entries)
    for number in entries:
        if number in photos:
            photo = photos[number]
            pictures += photo.has_small
            rows[number] = _row(request, photo, as_picture=photo.has_small and pictures <= MOST_PICTURES)
    return rows


def _row(request: RequestContext, photo: EntryPhoto, *, as_picture: bool) -> PhotoRow:
    link = f"/photos/{photo.entry_id}"
    gone = "" if photo.gone_ms is None else gone_words(request, photo)
    scale = SHOWN_DOTS / max(photo.width, photo.height)
    size = max(1, round(photo.width * scale)), max(1, round(photo.height * scale))
    return PhotoRow(link, f"{link}/small.jpg" if as_picture else "", *size, gone)


def gone_words(request: RequestContext, photo: EntryPhoto) -> str:
    """That a photo was deleted, when and by whom."""
    words = request.words
    return words.t("photo.gone", at=words.moment(photo.gone_ms or 0), who=photo.gone_by or "")
