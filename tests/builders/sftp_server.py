"""A small SFTP server on loopback, for tests: one user, one folder, connections that can be cut."""

# mypy: disallow_subclassing_any=False, warn_return_any=False

from __future__ import annotations

import contextlib
import os
import socket
import threading
from pathlib import Path
from typing import Any

import paramiko

USER, PASSWORD = "rearing", "hush-of-sftp"


class _Door(paramiko.ServerInterface):
    """Lets one user in."""

    def check_auth_password(self, username: str, password: str) -> int:
        good = (username, password) == (USER, PASSWORD)
        return paramiko.AUTH_SUCCESSFUL if good else paramiko.AUTH_FAILED

    def check_channel_request(self, kind: str, _number: int) -> int:
        return paramiko.OPEN_SUCCEEDED if kind == "session" else paramiko.OPEN_FAILED_UNKNOWN_CHANNEL_TYPE


class _File(paramiko.SFTPHandle):
    def stat(self) -> Any:
        return paramiko.SFTPAttributes.from_stat(os.fstat(self.readfile.fileno()))


class _Folder(paramiko.SFTPServerInterface):
    """What is asked of files, carried out below one folder."""

    root = Path()
    room_bytes: int | None = None

    def _real(self, path: str) -> Path:
        return self.root / self.canonicalize(path).lstrip("/")

    def _done(self, action: Any) -> Any:
        try:
            return action()
        except OSError as error:
            return paramiko.SFTPServer.convert_errno(error.errno or 0)

    def _ok(self, action: Any) -> Any:
        found = self._done(action)
        return found if isinstance(found, int) and found else paramiko.SFTP_OK

    def list_folder(self, path: str) -> Any:
        def named(one: Path) -> Any:
            facts = paramiko.SFTPAttributes.from_stat(one.stat())
            facts.filename = one.name
            return facts

        return self._done(lambda: [named(one) for one in self._real(path).iterdir()])

    def stat(self, path: str) -> Any:
        return self._done(lambda: paramiko.SFTPAttributes.from_stat(self._real(path).stat()))

    lstat = stat

    def open(self, path: str, flags: int, _facts: Any) -> Any:
        def opened() -> Any:
            handle = _File(flags)
            file = os.fdopen(
                os.open(self._real(path), flags, 0o600),
                "r+b" if flags & os.O_RDWR else "wb" if flags & os.O_WRONLY else "rb",
            )
            handle.readfile = handle.writefile = file
            handle.filename = path
            return handle

        return self._done(opened)

    def remove(self, path: str) -> Any:
        return self._ok(lambda: self._real(path).unlink())

    def rename(self, oldpath: str, newpath: str) -> Any:
        return self._ok(lambda: self._real(oldpath).rename(self._real(newpath)) and None)

    posix_rename = rename

    def mkdir(self, path: str, _facts: Any) -> Any:
        return self._ok(lambda: self._real(path).mkdir())

    def rmdir(self, path: str) -> Any:
        return self._ok(lambda: self._real(path).rmdir())


class SftpServer:
    """Serves a folder until it is closed."""

    def __init__(self, root: Path) -> None:
        self.root, self._key = root, paramiko.RSAKey.generate(2048)
        self._folder = type("_Served", (_Folder,), {"root": root})
        self._socket = socket.create_server(("127.0.0.1", 0))
        self._transports: list[Any] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    @property
    def port(self) -> int:
        return int(self._socket.getsockname()[1])

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                connection, _ = self._socket.accept()
                transport = paramiko.Transport(connection)
                transport.add_server_key(self._key)
                transport.set_subsystem_handler("sftp", paramiko.SFTPServer, self._folder)
                self._transports.append(transport)
                with contextlib.suppress(paramiko.SSHException, EOFError):
                    transport.start_server(server=_Door())

    def cut(self) -> None:
        """End every connection, as a network does."""
        for transport in self._transports:
            transport.close()
        self._transports.clear()

    def close(self) -> None:
        self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        self.cut()
        self._thread.join(5)
