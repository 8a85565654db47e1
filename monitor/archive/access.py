"""How an archive is reached for reading, and which of the two ways of asking its server understands.

A server is never judged by a status alone: some answer 200 to questions that they do not understand. It is
asked for a sum, in each language, and knows the language in which it says the right one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal
from urllib.parse import urlsplit

from pydantic import SecretStr

from monitor.archive.reader import ArchiveReader
from monitor.errors import ArchiveError, ArchiveRefused, ArchiveUnreachable
from monitor.settings.schema import ArchiveSettings

Kind = Literal["victoria", "influx2"]
_NEEDS_RIGHT = frozenset({401, 403})
_LATER = frozenset({429, 502, 503, 504})
_MARKUP = re.compile(r"<[^>]*>")
_MOST_REASON = 150
READ_TIMEOUT_S = 60.0
"""Longest pause between two pieces of an answer."""


@dataclass(frozen=True, slots=True)
class ReadAccess:
    """Where an archive is read, and with what right. Without a `kind` the server is asked what it is."""

    url: str
    """the way to its queries: /api/v1/query or /api/v2/query is put behind it"""
    kind: Kind | None = None
    token: SecretStr | None = None
    org: str = ""
    bucket: str = ""
    timeout_s: float = READ_TIMEOUT_S

    def __post_init__(self) -> None:
        if not (self.secret.isprintable() and self.secret.isascii()):
            raise ArchiveError(
                "the token of [archive] holds what no token can hold: a line break, or a letter with an "
                "accent. To mend: copy it again from the archive server."
            )

    @property
    def secret(self) -> str:
        """The token as it is sent; empty without one."""
        return "" if self.token is None else self.token.get_secret_value().strip()

    @property
    def shown(self) -> str:
        """The address as it may be shown: without what is secret in it."""
        parts = urlsplit(self.url)
        return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"


def access_of(settings: ArchiveSettings) -> ReadAccess:
    """How a farm reads the archive to which it writes."""
    return ReadAccess(
        settings.read_url or settings.url,
        settings.kind,
        settings.read_token or settings.token,
        settings.org,
        settings.bucket,
    )


def open_reader(access: ReadAccess) -> ArchiveReader:
    """The archive, ready to be asked; closed by its user.

    Raises ArchiveUnreachable, ArchiveRefused, or ArchiveError where the server understands neither language.
    """
    if access.kind == "victoria":
        return _prometheus(access)
    if access.kind == "influx2":
        return _flux(access)
    return _found_out(access)


def _prometheus(access: ReadAccess) -> ArchiveReader:
    from monitor.archive.prometheus import PrometheusReader

    return PrometheusReader(access)


def _flux(access: ReadAccess) -> ArchiveReader:
    from monitor.archive.flux import FluxReader

    return FluxReader(access)


def _found_out(access: ReadAccess) -> ArchiveReader:
    refusals: list[ArchiveError] = []
    for opened in (_prometheus, _flux):
        reader = opened(access)
        try:
            reader.prove()
        except ArchiveUnreachable:
            reader.close()
            raise
        except ArchiveError as error:
            reader.close()
            refusals.append(error)
        else:
            return reader
    needs_right = (error for error in refusals if isinstance(error, ArchiveRefused) and error.needs_right)
    if (wrong := next(needs_right, None)) is not None:
        raise wrong
    raise ArchiveError(
        "{url} understands neither of the two ways of reading an archive (as VictoriaMetrics: {victoria}; "
        "as InfluxDB 2: {influx}). To mend: give the address of its queries in [archive] read_url, "
        "and what it is in [archive] kind",
        url=access.shown,
        victoria=_in_short(refusals[0]),
        influx=_in_short(refusals[1]),
    )


def _in_short(error: ArchiveError) -> object:
    """What a server said, where it said something; else the whole of the error."""
    values = error.said.values
    if {"status", "reason"} <= values.keys():
        return f"{values['status']}: {values['reason']}"
    return values.get("reason", error.said)


def refusal(access: ReadAccess, status: int, reason: str) -> ArchiveError:
    """What a status other than 200 means to who asked; one that ends by itself counts as no answer."""
    reason = _told(access, reason)
    if status in _LATER:
        return ArchiveUnreachable(
            "the archive server is busy or in trouble ({status}: {reason}); it is asked again later",
            status=str(status),
            reason=reason,
        )
    if status in _NEEDS_RIGHT:
        return ArchiveRefused(
            "{url} does not let this token read ({status}: {reason}). To mend: give one that may in "
            "[archive] read_token",
            needs_right=True,
            url=access.shown,
            status=str(status),
            reason=reason,
        )
    return ArchiveRefused(
        "{url} refuses the question ({status}: {reason}). To mend: give the address of its queries in "
        "[archive] read_url",
        url=access.shown,
        status=str(status),
        reason=reason,
    )


def no_answer(access: ReadAccess, error: Exception) -> ArchiveUnreachable:
    """The network or the server is away; of what the library says only what it met."""
    met = str(getattr(error, "reason", None) or error)
    reason = _told(access, met.partition("): ")[2] or met)
    return ArchiveUnreachable("the archive server does not answer ({reason})", reason=reason)


def not_understood(access: ReadAccess, error: Exception) -> ArchiveError:
    """Something answered, and not as such a server answers."""
    return ArchiveError(
        "{url} gave an answer that makes no sense ({reason}). To mend: look at the address in "
        "[archive] read_url, and at what stands between this computer and the server",
        url=access.shown,
        reason=_told(access, str(error)),
    )


def not_such_a_server(access: ReadAccess, kind: str) -> ArchiveError:
    """It answers, and the answer is wrong."""
    return ArchiveError("{url} does not answer as {kind} does", url=access.shown, kind=kind)


def _told(access: ReadAccess, text: str) -> str:
    """What a server or library said, in one short line: without markup, and without the token."""
    clean = _MARKUP.sub(" ", text) if text.lstrip().startswith("<") else text
    clean = clean.replace(access.secret, "***") if access.secret else clean
    return " ".join(clean.split())[:_MOST_REASON]
