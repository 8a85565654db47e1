"""The secrets of a site, sealed with a passphrase: scrypt makes the key, AES-GCM encrypts and proves.

Sealed are keys, cards and password files of the site, and the rows that no copy of the database holds. The
numbers of scrypt stand in the first line of the sealed file, which AES-GCM proves as well.
"""

from __future__ import annotations

import base64
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from monitor.errors import CopyError
from monitor.store import meta
from monitor.store.connection import Database

KIND = "rearing-monitor secrets"
FORMAT = 1
COST, BLOCK, PARALLEL = 2**15, 8, 3
"""Of scrypt (RFC 7914): 32 MiB of memory for a moment; a small computer has no more to spare."""
_COSTLIEST = 2**20
_SALT_BYTES, _NONCE_BYTES, _KEY_BYTES = 16, 12, 32


@dataclass(frozen=True, slots=True)
class SecretFile:
    """A file with a secret: where it belongs (as `CopiedFile.place`), its rights, what is in it."""

    place: str
    mode: int
    content: bytes


@dataclass(frozen=True, slots=True)
class SiteSecrets:
    """What is sealed: files, facts of the database by name, and rows of its tables as columns by name."""

    files: tuple[SecretFile, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict)
    rows: Mapping[str, Sequence[Mapping[str, Any]]] = field(default_factory=dict)


def database_secrets(database: Database) -> tuple[dict[str, str], dict[str, list[dict[str, Any]]]]:
    """The facts and rows that no copy of the database holds."""
    facts = {key: meta.Meta(database).get(key) for key in meta.SECRETS}
    rows = {}
    for table in meta.SECRET_TABLES:
        names = [row[1] for row in database.rows(f"PRAGMA table_info({table})")]
        rows[table] = [
            dict(zip(names, row, strict=True))
            for row in database.rows(f"SELECT * FROM {table}")  # noqa: S608
        ]
    return {key: value for key, value in facts.items() if value is not None}, rows


def put_into_database(database: Database, secrets: SiteSecrets) -> None:
    """Give the facts and rows back to a database that came out of a copy, in one transaction."""
    with database.write() as connection:
        for key in set(secrets.facts) & set(meta.SECRETS):
            meta.put(connection, key, secrets.facts[key])
        for table in set(secrets.rows) & set(meta.SECRET_TABLES):
            for row in secrets.rows[table]:
                names, marks = ", ".join(row), ", ".join("?" * len(row))
                connection.execute(
                    f"INSERT OR REPLACE INTO {table}({names}) VALUES({marks})",
                    tuple(row.values()),
                )


def seal(secrets: SiteSecrets, passphrase: str) -> bytes:
    """The sealed file."""
    salt, nonce = os.urandom(_SALT_BYTES), os.urandom(_NONCE_BYTES)
    head = {"kind": KIND, "format": FORMAT, "n": COST, "r": BLOCK, "p": PARALLEL}
    line = json.dumps({**head, "salt": _text(salt), "nonce": _text(nonce)}).encode() + b"\n"
    sealed: bytes = _cipher(passphrase, salt, COST, BLOCK, PARALLEL).encrypt(nonce, _packed(secrets), line)
    return line + sealed


def unseal(content: bytes, passphrase: str, path: str) -> SiteSecrets:
    """What was sealed; CopyError for another passphrase or a damaged file, which look the same."""
    from cryptography.exceptions import InvalidTag

    line, _, rest = content.partition(b"\n")
    try:
        head = json.loads(line)
        salt, nonce = base64.b64decode(head["salt"]), base64.b64decode(head["nonce"])
        if head["format"] != FORMAT or not 0 < head["n"] * head["p"] <= _COSTLIEST or head["r"] != BLOCK:
            raise ValueError
        cipher = _cipher(passphrase, salt, head["n"], head["r"], head["p"])
        return _unpacked(cipher.decrypt(nonce, rest, line + b"\n"))
    except InvalidTag:
        raise CopyError(
            "the passphrase does not open {path}, or the file is damaged. Nothing was changed. To mend: give "
            "the passphrase that was in force on the day of this copy, or go on without its secrets.",
            path=path,
        ) from None
    except (ValueError, KeyError, TypeError):
        raise CopyError(
            "{path} is damaged, so this copy cannot be trusted. To mend: use another copy.", path=path
        ) from None


def _cipher(passphrase: str, salt: bytes, cost: int, block: int, parallel: int) -> Any:
    # Only here: it takes a while to load, and no look at the farm needs it.
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    return AESGCM(Scrypt(salt, _KEY_BYTES, cost, block, parallel).derive(passphrase.encode()))


def _packed(secrets: SiteSecrets) -> bytes:
    files = [
        {"place": each.place, "mode": each.mode, "content": _text(each.content)} for each in secrets.files
    ]
    return json.dumps({"files": files, "facts": secrets.facts, "rows": secrets.rows}).encode()


def _unpacked(content: bytes) -> SiteSecrets:
    plain = json.loads(content)
    files = (
        SecretFile(each["place"], each["mode"], base64.b64decode(each["content"])) for each in plain["files"]
    )
    return SiteSecrets(tuple(files), plain["facts"], plain["rows"])


def _text(content: bytes) -> str:
    return base64.b64encode(content).decode()
