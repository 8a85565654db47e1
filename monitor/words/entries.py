"""What an entry of the logbook says, in one wording for the page and the command line."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import UTC

from monitor.logbook.entry import WITHDRAWN, Refusal
from monitor.logbook.notebook import IMPORT_KEY
from monitor.logbook.sheet import WORDS
from monitor.records import MS_PER_MINUTE, LogbookEntry, SubjectKind
from monitor.words.catalogue import LANGUAGES
from monitor.words.localizer import Localizer, grams, grouped, kilograms, litres, percent, plain

STILL_NOW_MS = 2 * MS_PER_MINUTE
"""An entry about a time as near as this is about now."""
Title = Callable[[str], str]
"""The name for people of a place."""
Body = Mapping[str, object]

_ABOUT = {SubjectKind.PLACE: "place_", SubjectKind.NODE: "board_"}
_VARIANTS = (
    ("on", True, "on"),
    ("rough", True, "rough"),
    ("spread", True, "spread"),
    ("cover", "open", "open"),
    ("begins", True, "new"),
    ("what", "prepupae", "counted"),
)
_NAMES = (
    *("kg", "moisture", "place", "stage", "event", "how", "into", "other", "flies", "grams", "animals"),
    *("percent", "cover", "what", "larvae", "purpose"),
)
_DETAILS: Mapping[str, tuple[str, ...]] = {
    "start": ("animals", "grams", "age_days", "purpose", "cage"),
    "move": ("purpose", "cage"),
    "planned_move": ("purpose", "cage"),
    "split": ("animals", "percent", "purpose", "cage"),
    "thin": ("animals", "percent"),
    "purpose": ("cage",),
    "end": ("grams", "animals", "use", "mean_mg"),
    "fill": ("feed", "larvae", "cohort", "age_days"),
    "feed": ("feed",),
    "larvae": ("cohort", "age_days"),
    "take": ("use", "mean_mg", "moisture"),
    "empty": ("ended", "grams", "use", "mean_mg", "residue_kg", "residue_moisture", "stays"),
    "water": ("back_to_kg",),
    "saw": ("hatched", "young_grams", "sure_days"),
    "flies": ("female_percent",),
    "collect": ("strips", "clutches", "use", "tray", "cohort"),
    "dead": ("animals", "grams"),
}
"""What is said of a kind of entry beside its first phrase, where its body has it."""


def entry_text(entry: LogbookEntry, words: Localizer, title: Title) -> str:
    """What an entry says, without its time, its note and who wrote it."""
    key = f"told.{_ABOUT.get(entry.subject_kind, '')}{entry.kind}"
    if not words.has(key):
        return entry.kind
    values = {name: _value(name, value, words, title) for name, value in entry.body.items()}
    if entry.kind == "saw" and "percent" in values:
        values["hatched"] = values["percent"]
    known: dict[str, object] = {name: values.get(name, words.t("value.none")) for name in _NAMES}
    known["number"] = entry.corrects
    until_ms = entry.body.get("until_ms")
    known["until"] = words.clock(until_ms) if isinstance(until_ms, int) else words.t("value.none")
    if entry.kind == "water" and math.isfinite(_number(entry.body.get("kg"))):
        known["kg"] = litres(words, _number(entry.body["kg"]))
    head = words.t(_variant(key, entry.body, words), **known)
    details = [name for name in _DETAILS.get(entry.kind, ()) if name in values]
    said = (
        words.t(_variant(f"told.with_{name}", entry.body, words), **{**known, **values}) for name in details
    )
    return words.listing([head, *said])


def noted_text(entry: LogbookEntry, words: Localizer, title: Title) -> str:
    """What an entry says, with its note."""
    text, note = entry_text(entry, words, title), entry.body.get("note")
    return f"{text} ({note})" if note else text


def entry_line(entry: LogbookEntry, words: Localizer, title: Title) -> str:
    """What an entry says, with its time and its note."""
    return f"{words.moment(entry.at_ms)}  {noted_text(entry, words, title)}"


def logged_line(
    entry: LogbookEntry,
    newer: LogbookEntry | None,
    words: Localizer,
    title: Title,
    *,
    with_subject: bool = False,
) -> str:
    """An entry in the list of the logbook: with who wrote it, and with the entry that counts in its place."""
    said = entry_line(entry, words, title)
    if with_subject:
        text = words.headed(subject_title(entry, title), noted_text(entry, words, title))
        said = f"{words.moment(entry.at_ms)}  {text}"
    run = entry.body.get(IMPORT_KEY)
    by_whom = words.t("logbook.by_whom", who=entry.author)
    line = words.listing([said, by_whom, *([str(run)] if run else [])])
    remark = remark_text(entry, newer, words)
    return f"{line}  [{remark}]" if remark else line


def state_of(newer: LogbookEntry | None) -> str:
    """Whether an entry is in force, corrected or withdrawn by a newer one."""
    return "in_force" if newer is None else "withdrawn" if newer.kind == WITHDRAWN else "corrected"


def remark_text(entry: LogbookEntry, newer: LogbookEntry | None, words: Localizer) -> str:
    """Which entry counts in its place, and in whose place it counts itself; "" where there is neither."""
    parts = [] if newer is None else [words.t(f"logbook.{state_of(newer)}", number=newer.entry_id)]
    if entry.corrects is not None and entry.kind != WITHDRAWN:
        parts.append(words.t("logbook.instead", number=entry.corrects))
    return words.listing(parts)


def subject_title(entry: LogbookEntry, title: Title) -> str:
    """What an entry is about: the name of a cohort, or the title of a place."""
    return entry.subject if entry.subject_kind is SubjectKind.COHORT else title(entry.subject)


def written_text(entry: LogbookEntry, said: str, words: Localizer, title: Title) -> str:
    """That an entry was just written, with its number; a time that is not now is said back in full."""
    about = subject_title(entry, title)
    if entry.kind == WITHDRAWN:
        return words.t("write.withdrawn", number=entry.entry_id, about=about, old=entry.corrects)
    written = words.t("write.written", number=entry.entry_id, about=about, said=said)
    if abs(entry.entered_ms - entry.at_ms) < STILL_NOW_MS:
        return written
    return f"{written} {words.t('write.when', when=words.said_back(entry.at_ms))}"


def _variant(key: str, body: Body, words: Localizer) -> str:
    """The key of what is said in two ways: a fan on or off, a test by hand, a cover or none, a new cohort."""
    for name, value, ending in _VARIANTS:
        if ending == "counted" and "kg" in body:
            continue
        if body.get(name) == value and words.has(f"{key}_{ending}"):
            return f"{key}_{ending}"
    return key


def _value(name: str, value: object, words: Localizer, title: Title) -> str:
    if name in _NUMBERS:
        return _NUMBERS[name](words, value) if math.isfinite(_number(value)) else str(value)
    if name in ("place", "cage", "tray"):
        return title(str(value))
    if isinstance(value, list):
        return words.listing([str(each) for each in value])
    key = f"{_GROUPS.get(name)}.{value}"
    return words.t(key) if words.has(key) else str(value)


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else math.nan


def _figure(words: Localizer, value: object) -> str:
    number = _number(value)
    return grouped(words, number) if number == round(number) else plain(words, number)


def _days(words: Localizer, value: object) -> str:
    return words.t("window.days", count=_number(value), shown=_figure(words, value))


_NUMBERS: Mapping[str, Callable[[Localizer, object], str]] = {
    "kg": lambda words, value: kilograms(words, _number(value)),
    "back_to_kg": lambda words, value: kilograms(words, _number(value)),
    "residue_kg": lambda words, value: kilograms(words, _number(value)),
    **dict.fromkeys(("grams", "young_grams"), lambda words, value: grams(words, _number(value))),
    "mean_mg": lambda words, value: f"{_figure(words, value)} mg",
    **dict.fromkeys(("moisture", "residue_moisture"), lambda words, value: percent(words, _number(value))),
    **dict.fromkeys(
        ("animals", "flies", "larvae", "percent", "female_percent", "strips", "clutches"), _figure
    ),
    **dict.fromkeys(("age_days", "sure_days"), _days),
}
_GROUPS: Mapping[str, str] = {
    "stage": "stage",
    "event": "seen",
    "how": "ending",
    "purpose": "purpose",
    "cover": "cover",
    "what": "taken",
    "use": "use",
}


def sheet_words(words: Localizer) -> dict[str, str]:
    """The words of the sheet of a week as they are printed, by the English ones."""
    return {name: words.t(f"sheet.{name}") for name in WORDS}


def spoken_words() -> dict[str, str]:
    """The English word for each word of the sheet in any language, in lower case."""
    spoken: dict[str, str] = {}
    for language in LANGUAGES:
        printed = sheet_words(Localizer.plain(language, UTC, 0))
        spoken |= {text.lower(): name for name, text in printed.items()}
    return spoken


def refused_sentence(refusal: Refusal, words: Localizer) -> str:
    """That an entry does not count, and why."""
    about = f"{refusal.entry.subject}, {refusal.entry.kind}"
    reason = words.sentence(refusal.reason)
    return words.t("logbook.refused", number=refusal.entry.entry_id, about=about, reason=reason)
