"""Tells people of silent sites: who is told what, in which words, kept until it was sent."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path

from monitor.errors import Sentence, StoreError
from monitor.notify.channels import Channel, open_channels
from monitor.notify.outbox import SafeOutbox
from monitor.notify.outbox_worker import OutboxWorker
from monitor.notify.policy import RecipientPolicy, quiet_until_ms
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, MessageKind, OutboxMessage, Priority
from monitor.sites.lookout import Known
from monitor.sites.overview import SiteLine, without_yields
from monitor.sites.settings import Person, Right, SitesSettings
from monitor.sites.silence import AWAY_MS, SilenceNews, SilenceState, archive_answered, archive_away
from monitor.sites.wording import troubles
from monitor.store import Store
from monitor.words.alarm_messages import Text
from monitor.words.localizer import Localizer

log = logging.getLogger(__name__)

DATABASE = "sites.sqlite"
STATE = "sites_silence"
SEEN_AGAIN = "the site was heard again before the message was due"
MOST_NAMED = 20
"""Names in one message; the rest is counted. Own choice."""
_ABOUT_SITE = "silence/"


def policy_of(settings: SitesSettings) -> RecipientPolicy:
    """The people to whom messages go, as the outbox knows them."""
    recipients = tuple(person.recipient for person in settings.people if person.recipient is not None)
    return RecipientPolicy(recipients, settings.zone, MS_PER_DAY, MS_PER_DAY, settings.group.language)


class SilenceWatch:
    """Follows what is known of the sites and writes messages; a worker sends them, across restarts."""

    def __init__(
        self,
        store: Store,
        settings: SitesSettings,
        channels: Mapping[str, Channel] | None = None,
        clock_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self._store, self._settings = store, settings
        self._policy = policy_of(settings)
        self._outbox = SafeOutbox(store.outbox)
        if channels is None:
            channels, problems = open_channels(self._policy.recipients)
            for person, problem in problems.items():
                log.error("messages to %s cannot be sent: %s", person, problem)
        self.worker = OutboxWorker(self._outbox, channels, self._policy, lambda _alarm: None, clock_ms)
        self._state = self._kept()

    def _kept(self) -> SilenceState:
        kept = self._store.meta.get(STATE)
        return SilenceState(**json.loads(kept)) if kept else SilenceState()

    def follow(self, known: Known, now_ms: int) -> SilenceNews:
        """Take in what a look gave, and tell whoever must know.

        Messages are kept before what was told: a kill in between tells twice, never not at all.
        """
        away_ms = max(AWAY_MS, round(3 * self._settings.watch.look_minutes * MS_PER_MINUTE))
        if known.trouble is not None or known.overview is None:
            news, state = archive_away(self._state, now_ms, away_ms)
        else:
            lines = {line.site: line for line in known.overview.lines}
            limits = {site: self._settings.silent_after_ms(site) for site in lines}
            news, state = archive_answered(self._state, lines, limits, now_ms, away_ms)
        self._tell(news, known.trouble, now_ms)
        if state != self._state:
            self._state = state
            self._keep()
        return news

    def _keep(self) -> None:
        try:
            self._store.meta.put(STATE, json.dumps(asdict(self._state)))
        except StoreError as error:
            log.error("what was told of silent sites cannot be kept: %s", error)

    def _tell(self, news: SilenceNews, trouble: Sentence | None, now_ms: int) -> None:
        self._outbox.add([*self._messages(news, trouble, now_ms)])
        self.worker.wake()

    def _messages(self, news: SilenceNews, trouble: Sentence | None, now_ms: int) -> Iterator[OutboxMessage]:
        for recipient in self._policy.recipients:
            person = self._settings.person(recipient.id)
            assert person is not None
            words = self._policy.words(recipient, now_ms)
            held_until_ms = quiet_until_ms(recipient.quiet_hours, now_ms, self._settings.zone) or 0
            for kind, text, about in self._texts(news, trouble, person, words):
                yield OutboxMessage(
                    recipient.id,
                    kind,
                    text.title,
                    text.body,
                    now_ms,
                    Priority.MEDIUM,
                    alarm_id=about,
                    not_before_ms=held_until_ms,
                )

    def _texts(
        self, news: SilenceNews, trouble: Sentence | None, person: Person, words: Localizer
    ) -> Iterator[tuple[MessageKind, Text, str | None]]:
        if news.away_since_ms is not None:
            yield MessageKind.ALARM, archive_away_text(news.away_since_ms, trouble, words), None
        if news.back_after_ms is not None:
            yield MessageKind.RETURNED, self._archive_back_text(news.back_after_ms, words), None
        silent = [line for line in news.silent if person.right(line.site) is not Right.NONE]
        shown = [without_yields(line) if person.right(line.site) is Right.CARE else line for line in silent]
        if len(shown) == 1:
            link = self._link(shown[0].site)
            text = silent_text(shown[0], words, link)
            yield MessageKind.ALARM, text, f"{_ABOUT_SITE}{shown[0].site}"
        elif shown:
            yield MessageKind.ALARM, many_silent_text(shown, news.together, words, self._link("")), None
        again = [
            (line, since_ms)
            for line, since_ms in news.heard_again
            if person.right(line.site) is not Right.NONE and not self._is_settled(person.id, line.site, words)
        ]
        if len(again) == 1:
            yield MessageKind.RETURNED, heard_again_text(*again[0], words), None
        elif again:
            yield MessageKind.RETURNED, many_heard_again_text([line for line, _ in again], words), None

    def _is_settled(self, recipient: str, site: str, words: Localizer) -> bool:
        """Whether the message about the silence still waits: then it goes, and nothing more is said."""
        waiting = [
            message
            for message in self._outbox.messages_for(f"{_ABOUT_SITE}{site}")
            if message.recipient == recipient and message.sent_ms is None and not message.superseded
        ]
        for message in waiting:
            self._outbox.supersede(message.message_id or 0, SEEN_AGAIN, words.now_ms)
        return bool(waiting)

    def _archive_back_text(self, after_ms: int, words: Localizer) -> Text:
        wait = words.length(self._settings.watch.silent_minutes * MS_PER_MINUTE)
        length = words.length(after_ms)
        body = words.t("sites.message_archive_back_body", length=length, wait=wait)
        return Text(words.t("sites.message_archive_back"), body)

    def _link(self, site: str) -> str:
        address = self._settings.page.public_address.rstrip("/")
        return f"{address}/sites/{site}" if address and site else address


def archive_away_text(since_ms: int, trouble: Sentence | None, words: Localizer) -> Text:
    """That nothing is known of any site, and since when."""
    body = words.t(
        "sites.message_archive_body",
        at=words.clock(since_ms),
        length=words.length(words.now_ms - since_ms),
        why=words.phrase(trouble or ""),
    )
    return Text(words.t("sites.message_archive"), body)


def silent_text(line: SiteLine, words: Localizer, link: str = "") -> Text:
    """That a site fell silent, what to do, and how it was before."""
    heard_ms = line.figures.heard_ms or words.now_ms
    body = words.t(
        "sites.message_silent_body",
        site=line.title,
        at=words.clock(heard_ms),
        length=words.length(words.now_ms - heard_ms),
    )
    before = troubles(line, heard_ms, words)
    if before:
        body = f"{body}\n{words.t('sites.message_before', what=words.clauses(before))}"
    return Text(words.t("sites.message_silent", site=line.title), f"{body}\n{link}".strip())


def many_silent_text(lines: Sequence[SiteLine], together: bool, words: Localizer, link: str = "") -> Text:
    """That several sites fell silent at once, each with the time at which it was heard last."""
    text = _named(
        [
            f"{line.title} ({words.clock(line.figures.heard_ms)})"
            for line in lines
            if line.figures.heard_ms is not None
        ],
        words,
    )
    key = "sites.message_many_body" if together else "sites.message_several_body"
    body = f"{words.t(key, sites=text)}\n{link}".strip()
    return Text(words.n("sites.message_many", len(lines)), body)


def heard_again_text(line: SiteLine, since_ms: int, words: Localizer) -> Text:
    """That a site is heard again."""
    length = words.length(words.now_ms - since_ms)
    body = words.t("sites.message_back_body", site=line.title, length=length)
    return Text(words.t("sites.message_back", site=line.title), body)


def many_heard_again_text(lines: Sequence[SiteLine], words: Localizer) -> Text:
    """That several sites are heard again."""
    names = _named([line.title for line in lines], words)
    body = words.t("sites.message_many_back_body", sites=names)
    return Text(words.n("sites.message_many_back", len(lines)), body)


def _named(names: Sequence[str], words: Localizer) -> str:
    """The first names, and how many more there are."""
    text = words.listing([*names[:MOST_NAMED]])
    left = len(names) - MOST_NAMED
    return f"{text} {words.t('sites.message_and_more', count=left)}" if left > 0 else text


def open_store(folder: Path) -> Store:
    """The database of messages that wait and of what was told. Raises StoreError."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return Store.open(folder / DATABASE, check=False)
