"""A place for copies that fsspec reaches: SFTP, S3, WebDAV and whatever else it knows.

The database goes compressed. Each file is written to a temporary name, read back and compared with its
SHA-256, and only then moved to its own, the manifest last: a copy without one is none. Photos that lie
there already with their size are not sent again.
"""

from __future__ import annotations

import base64
import hashlib
import importlib
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from monitor.copies import content
from monitor.copies.content import CHUNK, COMPRESSED, MANIFEST, CopiedFile, CopyManifest, Role
from monitor.copies.targets import OLD_PARTS_MS, PARTIAL, CopyName, Progress, no_progress
from monitor.errors import CopyError, MonitorError, UsageError
from monitor.settings.schema import CopyPlace
from monitor.store.copies import MARKER, marker_site, marker_text

PATIENCE_S = 30.0
"""Own choice: for so long a server may say nothing."""
HOST_KEY = "host_key"
"""In the options of a place by SFTP: the fingerprint of its server's key."""
_AFRESH: Mapping[str, Any] = {"skip_instance_cache": True}
"""fsspec keeps connections, dead ones too."""
_LEVEL = 6
_GZIP = 16 + zlib.MAX_WBITS
_LIBRARIES: Mapping[str, tuple[str, str]] = {
    "sftp": ("paramiko", "paramiko"),
    "s3": ("s3fs", "s3fs"),
    "webdav": ("webdav4", "webdav4"),
    "webdav+http": ("webdav4", "webdav4"),
}
"""For each scheme the module that fsspec needs, and the name to install it by."""


def open_place(place: CopyPlace) -> tuple[Any, str]:
    """The file system of a place and the folder in it; CopyError where a library is missing."""
    url = urlsplit(place.url or "")
    fsspec = _library("fsspec", "fsspec")
    if url.scheme in _LIBRARIES:
        _library(*_LIBRARIES[url.scheme])
    password = None if place.password is None else place.password.get_secret_value()
    user, known = place.username or url.username, dict[str, Any]()
    match url.scheme:
        case "sftp":
            return _open_sftp(fsspec, place, {"username": user, "password": password}), url.path or "/"
        case "s3":
            waits = {"connect_timeout": PATIENCE_S, "read_timeout": PATIENCE_S}
            known = {"key": user, "secret": password, "config_kwargs": waits, **_AFRESH}
            known["use_listings_cache"] = False
            return fsspec.filesystem("s3", **_given(known), **place.options), f"{url.netloc}{url.path}"
        case "webdav" | "webdav+http":
            base = f"{'http' if url.scheme == 'webdav+http' else 'https'}://{_host(url.netloc)}{url.path}"
            known = {"auth": (user, password or "") if user else None, "timeout": PATIENCE_S, **_AFRESH}
            return fsspec.filesystem("webdav", base_url=base, **_given(known), **place.options), ""
    known = {"username": user, "password": password, **_AFRESH}
    system, folder = fsspec.core.url_to_fs(place.url, **_given(known), **place.options)
    return system, folder


def _open_sftp(fsspec: Any, place: CopyPlace, known: dict[str, Any]) -> Any:
    """A connection by SFTP; with `host_key` in its options only to the server with that key."""
    url, options = urlsplit(place.url or ""), dict(place.options)
    wanted, port = options.pop(HOST_KEY, None), url.port or 22
    if wanted is not None:
        _refuse_other_server(url.hostname or "", port, str(wanted))
    known |= {"port": port, "timeout": PATIENCE_S, **_AFRESH}
    system = fsspec.filesystem("sftp", host=url.hostname, **_given(known), **options)
    system.ftp.get_channel().settimeout(PATIENCE_S)
    return system


def _refuse_other_server(host: str, port: int, wanted: str) -> None:
    """Ask for the server's key before it gets a password."""
    transport = _library("paramiko", "paramiko").Transport((host, port))
    try:
        transport.start_client(timeout=PATIENCE_S)
        found = fingerprint(transport.get_remote_server_key().asbytes())
    finally:
        transport.close()
    if found != wanted:
        raise CopyError(
            "the server at {host} has the key {found}, not {wanted}, and got neither password nor copy. To "
            "mend: ask whoever runs it; where the key was changed on purpose, write the new one into "
            "host_key.",
            host=host,
            found=found,
            wanted=wanted,
        )


def fingerprint(key: bytes) -> str:
    """The fingerprint of a server's key, as ssh-keygen shows it."""
    return "SHA256:" + base64.b64encode(hashlib.sha256(key).digest()).decode().rstrip("=")


def _host(netloc: str) -> str:
    return netloc.rpartition("@")[2]


def _given(options: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in options.items() if value is not None}


def _library(module: str, install: str) -> Any:
    try:
        return importlib.import_module(module)
    except ImportError:
        raise CopyError(
            "copies to such an address need the library {name}, which is not installed. To mend: {command}",
            name=install,
            command=f"pip install {install}",
        ) from None


class RemoteTarget:
    """A folder at a place that fsspec reaches. It is opened at the first call, and again after each fault."""

    def __init__(
        self, open_it: Callable[[], tuple[Any, str]], label: str, site: str | None, name: str
    ) -> None:
        self._open, self._label, self._site, self._id = open_it, label, site, name
        self._knows_key = False
        self._opened: tuple[Any, str] | None = None

    @classmethod
    def of(cls, place: CopyPlace, site: str | None) -> RemoteTarget:
        """The place as the settings have it."""
        url = urlsplit(place.url or "")
        label = f"{url.scheme}://{_host(url.netloc)}{url.path}"
        target = cls(lambda: open_place(place), label, site, place.id)
        target._knows_key = HOST_KEY in place.options
        return target

    @property
    def id(self) -> str:
        return self._id

    @property
    def label(self) -> str:
        return self._label

    @property
    def is_far(self) -> bool:
        return True

    def new_key(self) -> str | None:
        if not self._label.startswith("sftp:") or self._knows_key:
            return None
        with self._named_faults():
            transport = self._system()[0].client.get_transport()
            return fingerprint(transport.get_remote_server_key().asbytes())

    def prepare(self) -> None:
        with self._named_faults():
            system, folder = self._system()
            if folder:
                system.makedirs(folder, exist_ok=True)
            if not system.exists(self._path(MARKER)):
                system.pipe_file(self._path(MARKER), marker_text(self._site or "").encode())
        self.refuse_unprepared()

    def refuse_unprepared(self) -> None:
        if self._site is None:
            return
        with self._named_faults():
            system, _ = self._system()
            marker = self._path(MARKER)
            text = system.cat_file(marker).decode(errors="replace") if system.exists(marker) else None
        if text is None:
            raise UsageError(
                "{place} was not prepared for copies, and nothing was written. If it is the right "
                "place, run: "
                "{command}",
                place=self._label,
                command=f"rearing-monitor backup --prepare {self._id}",
            )
        if marker_site(text) != self._site:
            raise UsageError(
                "{folder} takes the copies of another site ({site}), and nothing was written. "
                "To mend: give each site a folder of its own.",
                folder=self._label,
                site=marker_site(text) or "?",
            )

    def list_copies(self) -> tuple[CopyName, ...]:
        self.refuse_unprepared()
        with self._named_faults():
            system, folder = self._system()
            found = {_base(entry) for entry in system.ls(folder, detail=False)}
            names = (CopyName.parsed(text) for text in found)
            new = [name for name in names if name is not None and not name.is_old]
            return tuple(sorted(name for name in new if system.exists(self._path(name.text, MANIFEST))))

    def staging(self, name: CopyName) -> Path | None:  # noqa: ARG002
        return None

    def put(self, local: Path, name: CopyName, site_photos: Path, progress: Progress = no_progress) -> None:
        self.refuse_unprepared()
        manifest = content.read_manifest(local)
        counter = _Counter(progress, manifest)
        part = f"{name}{PARTIAL}"
        with self._named_faults():
            system, _ = self._system()
            files = [*manifest.files, _manifest_file(local)]
            try:
                self._make(part, files)
                for file in files:
                    self._send(local / file.path, self._path(part, _name_there(file)), file, counter)
                self._send_photos(manifest, site_photos, counter)
                self._make(name.text, files)
                for file in files:
                    there = _name_there(file)
                    system.mv(self._path(part, there), self._path(name.text, there))
            finally:
                self._drop(part)

    def _make(self, folder: str, files: list[CopiedFile]) -> None:
        system, _ = self._system()
        for path in {self._path(folder), *(self._path(folder, _folder_of(file.path)) for file in files)}:
            system.makedirs(path, exist_ok=True)

    def _send_photos(self, manifest: CopyManifest, site_photos: Path, counter: _Counter) -> None:
        system, _ = self._system()
        there = self._sizes(content.PHOTOS)
        system.makedirs(self._path(content.PHOTOS), exist_ok=True)
        for photo in manifest.photos:
            source, target = site_photos / Path(photo.path).name, self._path(photo.path)
            if there.get(Path(photo.path).name) == photo.size_bytes or not source.is_file():
                counter.add(photo.size_bytes)
                continue
            self._send(source, f"{target}{PARTIAL}", photo, counter)
            system.mv(f"{target}{PARTIAL}", target)

    def _sizes(self, folder: str) -> dict[str, int]:
        system, _ = self._system()
        if not system.exists(self._path(folder)):
            return {}
        return {_base(entry["name"]): entry["size"] for entry in system.ls(self._path(folder), detail=True)}

    def _send(self, source: Path, target: str, file: CopiedFile, counter: _Counter) -> None:
        """Write a file, then read it back."""
        system, _ = self._system()
        with source.open("rb") as read, system.open(target, "wb") as write:
            packer = zlib.compressobj(_LEVEL, wbits=_GZIP) if _is_packed(file) else None
            while piece := read.read(CHUNK):
                write.write(packer.compress(piece) if packer else piece)
                counter.add(len(piece))
            if packer:
                write.write(packer.flush())
        found = hashlib.sha256()
        for piece in self._read(target):
            found.update(piece)
            counter.add(0)
        if not found.hexdigest().startswith(file.sha256):
            raise CopyError(
                "{place}: {file} came back other than it was sent, and this copy was thrown away. To "
                "mend: try "
                "again; when it happens twice, use another place.",
                place=self._label,
                file=file.path,
            )

    def _read(self, path: str) -> Iterator[bytes]:
        system, _ = self._system()
        with system.open(path, "rb") as opened:
            unpacker = zlib.decompressobj(wbits=_GZIP) if path.endswith(COMPRESSED) else None
            while piece := opened.read(CHUNK):
                yield unpacker.decompress(piece) if unpacker else piece
            if unpacker:
                yield unpacker.flush()

    def manifest(self, name: CopyName) -> CopyManifest | None:
        path = self._path(name.text, MANIFEST)
        with self._named_faults():
            text = self._system()[0].cat_file(path)
        return content.manifest_of(text, f"{self._label}/{name}/{MANIFEST}")

    def fetch(self, name: CopyName, into: Path, progress: Progress = no_progress) -> CopyManifest:
        manifest = self.manifest(name) or CopyManifest("", "", 0, "", 0, ())
        counter = _Counter(progress, manifest)
        with self._named_faults():
            lying = self._sizes(name.text)
            for file in manifest.files:
                # One that a person carried there from a folder holds the database as it is.
                path = _name_there(file) if _name_there(file) in lying else file.path
                self._bring(self._path(name.text, path), into / file.path, counter)
            there = self._sizes(content.PHOTOS) if manifest.photos else {}
            for photo in manifest.photos:
                if Path(photo.path).name in there:
                    self._bring(self._path(photo.path), into / photo.path, counter)
        content.write_manifest(into, manifest)
        return content.check_copy(into)

    def _bring(self, source: str, target: Path, counter: _Counter) -> None:
        with content.named_faults(target.parent):
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            opened = content.new_file(target)
        with opened as written:
            for piece in self._read(source):
                with content.named_faults(target.parent):
                    written.write(piece)
                counter.add(len(piece))

    def remove(self, name: CopyName) -> None:
        with self._named_faults():
            # Without its list it is no copy any more, wherever this is cut.
            self._system()[0].rm_file(self._path(name.text, MANIFEST))
            self._drop(name.text)

    def clear_unfinished(self, now_ms: int) -> None:
        with self._named_faults():
            system, folder = self._system()
            for entry in system.ls(folder, detail=False):
                name = CopyName.parsed(_base(entry).removesuffix(PARTIAL))
                if _base(entry).endswith(PARTIAL) and name and abs(now_ms - name.made_at_ms) > OLD_PARTS_MS:
                    self._drop(_base(entry))

    def close(self) -> None:
        system, self._opened = (self._opened or (None, ""))[0], None
        with suppress(Exception):
            if system is not None and hasattr(system, "client"):
                system.client.close()

    def _drop(self, folder: str) -> None:
        with suppress(Exception):  # What stays is no copy, and is cleared another day.
            self._system()[0].rm(self._path(folder), recursive=True)

    def _path(self, *parts: str) -> str:
        folder = self._system()[1].rstrip("/")
        joined = "/".join(part for part in parts if part)
        return f"{folder}/{joined}" if folder else joined

    def _system(self) -> tuple[Any, str]:
        if self._opened is None:
            self._opened = self._open()
        return self._opened

    @contextmanager
    def _named_faults(self) -> Iterator[None]:
        """Whatever a library raises becomes an error that names the place; the next call opens it anew."""
        try:
            yield
        except MonitorError:
            raise
        except Exception as error:
            self.close()
            raise CopyError(
                "{place} does not take or give copies now: {why}. To mend: see whether the network "
                "reaches it, "
                "and whether user, password and folder are right.",
                place=self._label,
                why=_why(error),
            ) from error


class _Counter:
    """Counts bytes of a copy for whoever looks on; what that raises ends the copy."""

    def __init__(self, progress: Progress, manifest: CopyManifest) -> None:
        self._progress, self._done = progress, 0
        self._total = manifest.size_bytes + sum(photo.size_bytes for photo in manifest.photos)

    def add(self, count: int) -> None:
        self._done += count
        self._progress(min(self._done, self._total), self._total)


def _why(error: Exception) -> str:
    text = str(error).strip().rstrip(".")
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def _manifest_file(local: Path) -> CopiedFile:
    path = local / MANIFEST
    return CopiedFile(MANIFEST, path.stat().st_size, content.sha256_of(path), Role.SETTINGS, "")


def _is_packed(file: CopiedFile) -> bool:
    return file.role is Role.DATABASE


def _name_there(file: CopiedFile) -> str:
    return f"{file.path}{COMPRESSED}" if _is_packed(file) else file.path


def _folder_of(path: str) -> str:
    return path.rpartition("/")[0]


def _base(path: str) -> str:
    return path.rstrip("/").rpartition("/")[2]
