"""The form that writes into the logbook: what is prefilled, what was typed, what was refused and why."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.notify.phrases import local
from monitor.records import MS_PER_DAY, MS_PER_MINUTE
from monitor.views.page.entry_fields import LONGEST_NOTE, Field, ShownField, read_all, shown, text_of
from monitor.views.page.serving import Asked
from monitor.views.page.words import Words
from monitor.views.spoken_time import parse_moment

FARTHEST_MS = 60 * 366 * MS_PER_DAY
STILL_NOW_MS = 2 * MS_PER_MINUTE


@dataclass(frozen=True, slots=True)
class Form:
    """What a form is about: heading, where it is sent and where one gets back, its kind, its fields.

    `before` holds values of the body that are already known; `at_ms` is the prefilled time.
    """

    heading: str
    action: str
    leave: str
    kind: str
    fields: Sequence[Field]
    at_ms: int
    before: Mapping[str, object]
    do: str
    explained: str = ""
    caution: str = ""
    named: bool = False
    withdrawable: bool = False


@dataclass(frozen=True, slots=True)
class Typed:
    """What a form brought along, read."""

    at_ms: int
    body: Mapping[str, object]
    moved: bool


def show_form(asked: Asked, form: Form, refused: str = "") -> Response:
    """The form: with what was typed where it was refused, else prefilled."""
    again = bool(refused)
    return asked.render(
        "entry.html",
        400 if again else 200,
        form=form,
        fields=[_field(asked, each, form, again) for each in form.fields],
        at=asked.field("at", 40) if again else at_words(form.at_ms, asked),
        at_shown=asked.field("at_shown", 40) if again else at_words(form.at_ms, asked),
        note=asked.field("note", LONGEST_NOTE) if again else str(form.before.get("note") or ""),
        name=asked.field("name", 60) if again else "",
        reason=asked.field("reason", LONGEST_NOTE),
        mark=secrets.token_urlsafe(9),
        refused=refused.splitlines(),
    )


def _field(asked: Asked, field: Field, form: Form, again: bool) -> ShownField:
    typed = asked.field(field.key) if again else text_of(field, form.before.get(field.key), asked.words)
    return shown(field, typed, asked.words)


def at_words(at_ms: int, asked: Asked) -> str:
    """A time as a field for date and time holds it, to the minute."""
    return f"{local(at_ms, asked.words.zone):%Y-%m-%dT%H:%M}"


def typed(asked: Asked, form: Form) -> Typed:
    """What was typed; UsageError with every problem."""
    problems = []
    at_ms, body = form.at_ms, dict[str, object]()
    moved = asked.field("at", 40) != asked.field("at_shown", 40)
    try:
        at_ms = _at_ms(asked, form, moved)
    except UsageError as error:
        problems.append(str(error))
    try:
        body = read_all(form.fields, asked.field, asked.words)
    except UsageError as error:
        problems.append(str(error))
    if problems:
        raise UsageError("\n".join(problems))
    return Typed(at_ms, {**body, "note": asked.field("note", LONGEST_NOTE) or None}, moved)


def _at_ms(asked: Asked, form: Form, moved: bool) -> int:
    """As typed. Untouched, a correction keeps its time, and what was just opened is now to the second."""
    if form.withdrawable and not moved:
        return form.at_ms
    at_ms = moment_of(asked.field("at", 40), asked.words)
    just_opened = not moved and 0 <= asked.now_ms - at_ms < STILL_NOW_MS
    return asked.now_ms if just_opened else at_ms


def moment_of(text: str, words: Words) -> int:
    """The moment that was typed, by the farm's clock; none given is now."""
    if not text:
        return words.now_ms
    try:
        at_ms = parse_moment(text, words.now_ms, words.zone)
    except (UsageError, OverflowError, ValueError):
        raise UsageError(words.t("write.wrong_time", text=text)) from None
    if abs(at_ms - words.now_ms) > FARTHEST_MS:
        raise UsageError(words.t("write.wrong_time", text=text))
    return at_ms


def author(asked: Asked) -> str:
    """Who writes: the name given at the login, else the role."""
    return asked.visit.name or asked.words.t(f"role.{asked.visit.role}")


def write(asked: Asked, form: Form, work: Callable[[], str]) -> Response:
    """Do the work once and go where it says; what it refuses is shown beside the form with what was typed."""
    try:
        target = asked.farm.context.once.do(asked.field("mark", 40), work)
    except UsageError as error:
        return show_form(asked, form, str(error))
    asked.farm.context.feed.note()
    return RedirectResponse(target, 303)
