"""Write `farm.toml`: whole files for `init`, single keys for the page, comments and order kept.

Several files that belong together are written by `write_all`: all of them or none.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table

from monitor.errors import UsageError
from monitor.settings.loading import SECRETS, check_text, read, secret_tables
from monitor.settings.schema import Settings

LEFT_OUT = "left out of this copy"
_OWNER_ONLY, _LONG_ENOUGH = 0o600, 8


def write_file(path: Path, text: str, force: bool = False) -> Path | None:
    """Write a new settings file; with `force` replace one, and return where the old one is kept."""
    refuse_to_replace(path, force)
    backup = None
    if path.exists():
        backup = free_name(path.with_name(path.name + ".backup"))
        shutil.copy2(path, backup)
    _replace(path, text)
    return backup


def free_name(path: Path) -> Path:
    """The path itself, or with -2, -3 and so on at its end where that is taken."""
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.name}-{number}")
    return free


def refuse_to_replace(path: Path, force: bool) -> None:
    """Raise UsageError if the file is there and may not be replaced; before anybody answers questions."""
    if path.exists() and not force:
        raise UsageError(
            "{path} is there already, and nothing was changed. "
            "Use --force to replace it (the old file is kept beside it), or name another with --config.",
            path=str(path),
        )


def write_secret(path: Path, secret: str) -> None:
    """Write a secret into a file of its own that only its owner may read."""
    if not path.parent.exists():
        path.parent.mkdir(parents=True)
        give_to_owner(path.parent, path.parent.parent)
    _replace(path, secret + "\n", _OWNER_ONLY)


def without_secrets(path: Path) -> str:
    """The text of the file for a copy: a secret that stands in it is left out, and nothing else."""
    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise UsageError(
            "{path} cannot be copied: {why}. To mend: run `rearing-monitor check`.", path=path, why=error
        ) from None
    gone = []
    for location, table in secret_tables(document):
        for name in SECRETS[str(location[0])]:
            if name in table:
                gone.append(str(table[name]))
                table[name] = LEFT_OUT
    text = tomlkit.dumps(document)
    for secret in gone:
        # In a comment, or named twice; a short one would take half of the file with it.
        if len(secret) >= _LONG_ENOUGH:
            text = text.replace(secret, LEFT_OUT)
    return text


def place_node(path: Path, node_id: str, place: str, environ: Mapping[str, str] = os.environ) -> Settings:
    """Put a node into a place in the file; a result that would be wrong leaves the file as it was."""

    def change(document: tomlkit.TOMLDocument) -> None:
        nodes = document.setdefault("nodes", tomlkit.aot())
        if not isinstance(nodes, AoT):
            raise UsageError(
                "{file}: nodes is not written as [[nodes]] tables; put {node} in by hand",
                file=path.name,
                node=node_id,
            )
        table = next((known for known in nodes if known.get("id") == node_id), None)
        if table is None:
            nodes.append(_new_node(node_id, place))
        else:
            table["place"] = place

    return edit(path, change, environ)


def _new_node(node_id: str, place: str) -> Table:
    table = tomlkit.table()
    table.update({"id": node_id, "place": place})
    table.add(tomlkit.nl())
    return table


def edit(
    path: Path, change: Callable[[tomlkit.TOMLDocument], Any], environ: Mapping[str, str] = os.environ
) -> Settings:
    """Change the file through tomlkit; the result is checked before it replaces the file."""
    read(path, environ)
    document = tomlkit.parse(path.read_text(encoding="utf-8-sig"))
    change(document)
    text = tomlkit.dumps(document)
    settings = check_text(text, path=path, environ=environ).settings
    _keep(path)
    _replace(path, text)
    return settings


def set_in_table(
    path: Path, table: str, keys: Mapping[str, Any], gone: Collection[str], environ: Mapping[str, str]
) -> str:
    """The text of the file with these keys in a table, checked; `gone` are taken out. Nothing is written.

    A key that is commented out gets its value there, so that it stands behind its explanation.
    """
    text = path.read_text(encoding="utf-8-sig")
    document = tomlkit.parse(text)
    if isinstance(document.get(table), Table) and f"[{table}]" in text.splitlines():
        there = document[table]
        for name in gone:
            there.pop(name, None)
        for name in [each for each in keys if each in there]:
            there[name] = keys[name]
        text = _uncommented(tomlkit.dumps(document), table, {k: v for k, v in keys.items() if k not in there})
    else:
        added = document.setdefault(table, tomlkit.table())
        for name in gone:
            added.pop(name, None)
        added.update(keys)
        text = tomlkit.dumps(document)
    check_text(text, path=path, environ=environ)
    return text


def _uncommented(text: str, table: str, keys: Mapping[str, Any]) -> str:
    """Put keys into a table: in the place of the line that shows them, else right below its head."""
    lines = text.splitlines()
    for name, value in keys.items():
        written = f"{name} = {tomlkit.item(value).as_string()}"
        head = lines.index(f"[{table}]")
        rest = range(head + 1, len(lines))
        end = next((at for at in rest if lines[at].startswith("[")), len(lines))
        shown = (f"# {name} = ", f"# {name}_env = ")
        # A secret is shown by its way from the environment, and given by the file.
        bare = tuple(f"# {name.removesuffix('_file')}{way} = " for way in ("_env", "_file"))
        found = next((at for at in range(head + 1, end) if lines[at].startswith((*shown, *bare))), None)
        if found is None:
            lines.insert(head + 1, written)
        else:
            lines[found] = written
    return "\n".join(lines) + "\n"


def _keep(path: Path) -> Path:
    """Copy the file beside itself as farm.toml.backup, with its rights."""
    backup = path.with_name(path.name + ".backup")
    shutil.copy2(path, backup)
    return backup


def _replace(path: Path, text: str, mode: int | None = None) -> None:
    """Write beside the file and rename, so that a power cut leaves the old file or the new one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    rights = mode if mode is not None else path.stat().st_mode & 0o777 if path.exists() else 0o644
    write_all([NewFile(path, text.encode(), rights)])


@dataclass(frozen=True, slots=True)
class NewFile:
    """A file to be written: its content, its rights, and the group that may read it (None: as it was)."""

    path: Path
    content: bytes
    mode: int
    group: int | None = None


def write_all(files: Sequence[NewFile]) -> None:
    """Write every file beside its place, then rename them all; when one cannot be, each stays as it was.

    A file stays with its owner, a new one goes to the owner of its folder: what root writes for the user of
    the service can be read by that user.
    """
    beside: list[Path] = []
    old: list[tuple[Path, bytes | None]] = []
    try:
        for file in files:
            beside.append(_beside(file))
        for file, new in zip(files, beside, strict=True):
            old.append((new, file.path.read_bytes() if file.path.exists() else None))
            new.replace(file.path)
    except BaseException:
        for new in beside:
            new.unlink(missing_ok=True)
        for file, (_, content) in zip(files[: len(old)], old, strict=True):
            _put_back(file, content)
        raise


def _put_back(file: NewFile, content: bytes | None) -> None:
    with suppress(OSError):
        if content is None:
            file.path.unlink(missing_ok=True)
        elif file.path.read_bytes() != content:
            _beside(NewFile(file.path, content, file.mode, file.group)).replace(file.path)


def _beside(file: NewFile) -> Path:
    handle, name = tempfile.mkstemp(dir=file.path.parent, prefix=f".{file.path.name}.")
    path = Path(name)
    try:
        with os.fdopen(handle, "wb") as opened:
            opened.write(file.content)
            opened.flush()
            os.fsync(opened.fileno())
        give_to_owner(path, file.path if file.path.exists() else file.path.parent, file.group)
        path.chmod(file.mode)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return path


def give_to_owner(path: Path, like: Path, group: int | None = None) -> None:
    """Let a file or folder belong to whom another belongs; where that is not allowed it stays ours."""
    facts = like.stat()
    with suppress(OSError, AttributeError):
        os.chown(path, facts.st_uid, facts.st_gid if group is None else group)
