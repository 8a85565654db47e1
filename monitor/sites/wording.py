"""Many sites in words: page, command line and messages take their sentences from here.

What is said of an alarm, a value, a window is said in the words of a site's own page.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.errors import Phrase
from monitor.records import MS_PER_HOUR, AlarmRule, AlarmStatus, Quantity
from monitor.sites.overview import (
    BinFigures,
    BoardFigures,
    CohortFigures,
    Overview,
    PlaceFigures,
    SiteAlarm,
    SiteLine,
    SitePicture,
    Standing,
    WeekFigures,
    Window,
    is_dry_soon,
)
from monitor.words.alarms import condition
from monitor.words.localizer import Localizer, day, inside, litres, window
from monitor.words.places import span
from monitor.words.yields import grams_words, kilograms_words

SHAPES = {
    Standing.HIGH: "high",
    Standing.SILENT: "unknown",
    Standing.ALARM: "medium",
    Standing.SEEN: "low",
    Standing.MEND: "beyond",
    Standing.FINE: "fine",
    Standing.AWAITED: "empty",
}
NEED_SOMEBODY = (Standing.HIGH, Standing.ALARM)
ITSELF = "site"
"""The place of the alarms about the monitor itself."""
NOON_MS = 12 * MS_PER_HOUR


def heading(overview: Overview, words: Localizer) -> str:
    """How many sites there are and how many need somebody."""
    if not overview.lines:
        return words.t("sites.none")
    counts = [
        words.n(f"sites.count_{name}", count)
        for name, count in (
            ("need", overview.count(*NEED_SOMEBODY)),
            ("silent", overview.count(Standing.SILENT)),
            ("awaited", overview.count(Standing.AWAITED)),
        )
        if count
    ]
    first = words.n("sites.count", len(overview.lines))
    return words.headed(first, words.listing(counts or [words.t("sites.all_fine")]))


def as_of(overview: Overview, words: Localizer, trouble: Phrase | None = None) -> str:
    """When the archive answered last; where it does not answer, that all is from then, and why."""
    at = words.ago(overview.read_ms)
    if trouble is None:
        return words.t("sites.read", at=at)
    return words.t("sites.no_answer", at=at, why=words.phrase(trouble))


def standing_word(line: SiteLine, words: Localizer) -> str:
    """One or two words for how a site stands."""
    return words.t(f"sites.standing_{line.standing}")


def heard(line: SiteLine, words: Localizer) -> str:
    """When a site was heard last."""
    if line.figures.heard_ms is None:
        return words.t("sites.never_heard")
    if line.silent_ms is None:
        return words.t("sites.heard", at=words.ago(line.figures.heard_ms))
    said = words.t("sites.silent", at=words.ago(line.figures.heard_ms))
    return said if line.watched else f"{said} {words.t('sites.unwatched')}"


def troubles(line: SiteLine, read_ms: int, words: Localizer) -> list[str]:
    """What needs somebody at a site; of a silent one as it was when it was heard last."""
    return list(_troubles(line, read_ms, words))


def _troubles(line: SiteLine, read_ms: int, words: Localizer) -> Iterator[str]:
    figures = line.figures
    unseen = round(figures.unacknowledged.value) if figures.unacknowledged else 0
    standing = round(figures.open_alarms.value) if figures.open_alarms else 0
    if unseen:
        yield words.n("sites.unseen", unseen)
    if standing and standing != unseen:
        yield inside(words.n("alarms.standing", standing))
    if line.worst is not None:
        yield alarm_words(line.worst, words)
    if figures.dry_bin is not None and is_dry_soon(figures.dry_bin, read_ms):
        yield dry_words(figures.dry_bin.place, figures.dry_bin.dry_ms, words)
    if figures.to_mend and figures.to_mend.value:
        yield words.n("sites.to_mend", round(figures.to_mend.value))


def dry_words(place: str, dry_ms: int, words: Localizer) -> str:
    """Since or from when a bin may be too dry."""
    key = "sites.dry" if dry_ms > words.now_ms else "sites.dry_already"
    return words.t(key, place=place, at=words.clock(dry_ms))


def alarm_words(alarm: SiteAlarm, words: Localizer) -> str:
    """Where and what, in the words of the site's own page."""
    place = words.t("sites.itself") if alarm.place == ITSELF else alarm.place
    said = words.headed(place, condition(_rule(alarm), alarm.value, words))
    if not alarm.stands:
        return f"{said} ({words.t('sites.over_unseen')})"
    return said


def _rule(alarm: SiteAlarm) -> AlarmRule:
    setpoint = float("nan") if alarm.setpoint is None else alarm.setpoint
    return AlarmRule(
        f"{alarm.place}/{alarm.quantity}/{alarm.side}/{alarm.priority}",
        alarm.place,
        alarm.quantity,
        alarm.side,
        setpoint,
        0.0,
        0.0,
        0.0,
        alarm.priority,
        "",
        "",
    )


def alarm_notes(alarm: SiteAlarm, words: Localizer) -> str:
    """Since when, and whether somebody has seen it."""
    notes = []
    if alarm.since_ms is not None:
        length = words.length(words.now_ms - alarm.since_ms)
        notes.append(words.t("alarm.since", at=words.clock(alarm.since_ms), length=length))
    if alarm.status is AlarmStatus.ACKNOWLEDGED:
        notes.append(words.t("alarm.acknowledged"))
    return " · ".join(notes)


def yield_words(eggs: Window | None, larvae: Window | None, words: Localizer) -> list[str]:
    """Eggs and larvae of a week, with their windows; nothing where none are to be had."""
    said = []
    if eggs is not None and eggs.high > 0.0:
        said.append(words.t("sites.eggs", amount=grams_words(eggs, words)))
    if larvae is not None and larvae.high > 0.0:
        said.append(words.t("sites.larvae", amount=kilograms_words(larvae, words)))
    return said


def yields_age(line: SiteLine, words: Localizer) -> str:
    """When the yields to come were worked out; "" where there are none."""
    ages = [each.at_ms for each in (line.figures.eggs_g, line.figures.larvae_kg) if each is not None]
    return words.t("sites.worked_out", at=words.ago(min(ages))) if ages else ""


def sentences(line: SiteLine, read_ms: int, words: Localizer) -> list[str]:
    """Everything that a line of the overview says beside the name and how the site stands."""
    said, wrong = [], troubles(line, read_ms, words)
    if line.silent_ms is not None or line.figures.heard_ms is None:
        said.append(heard(line, words))
        if wrong:
            said.append(words.headed(words.t("sites.last_said"), words.clauses(wrong)))
    elif wrong:
        said.append(words.clauses(wrong))
    coming = yield_words(line.figures.eggs_g, line.figures.larvae_kg, words)
    if coming:
        text = words.headed(words.t("sites.this_week"), words.listing(coming))
        said.append(text if line.silent_ms is None else f"{text} ({yields_age(line, words)})")
    return said


# One site.


@dataclass(frozen=True, slots=True)
class Group:
    """Some lines under one heading."""

    heading: str
    lines: tuple[str, ...]


def groups(picture: SitePicture, words: Localizer) -> list[Group]:
    """What the archive knows of a site, in groups; an empty one is left out."""
    line = picture.line
    parts = (
        ("sites.alarms", [_alarm_line(each, words) for each in line.figures.alarms]),
        ("sites.places", [place_words(each, words) for each in picture.places]),
        ("sites.bins", [bin_words(each, words) for each in picture.bins]),
        ("sites.cohorts", [cohort_words(each, words) for each in picture.cohorts if each.event]),
        ("sites.ahead", [text for each in picture.weeks for text in week_words(each, words)]),
        ("sites.boards", [board_words(each, words) for each in picture.boards]),
    )
    return [Group(words.t(key), tuple(lines)) for key, lines in parts if lines]


def _alarm_line(alarm: SiteAlarm, words: Localizer) -> str:
    notes = alarm_notes(alarm, words)
    said = words.headed(words.t(f"priority.{alarm.priority}"), alarm_words(alarm, words))
    return f"{said} · {notes}" if notes else said


def place_words(place: PlaceFigures, words: Localizer) -> str:
    """How a place is, and what is measured there."""
    state = words.t(f"state.{place.state}") if place.state else ""
    living = words.t(f"stage.{place.stage}") if place.stage else ""
    values = [
        f"{words.short_quantity(value.quantity)} {span(value.quantity, value.lowest, value.highest, words)}"
        for value in place.values
    ]
    return words.headed(place.place, words.clauses(part for part in (state, living, *values) if part))


def bin_words(each: BinFigures, words: Localizer) -> str:
    """How moist a bin is, until when, what it can take, and its harvest."""
    parts = []
    if each.moisture is not None:
        parts.append(words.value(Quantity.SUBSTRATE_MOISTURE, each.moisture))
    if each.dry_ms is not None:
        key = "sites.until" if each.dry_ms > words.now_ms else "sites.until_passed"
        parts.append(words.t(key, at=words.clock(each.dry_ms)))
    if each.litres:
        parts.append(words.t("sites.water", litres=litres(words, each.litres)))
    if each.harvest_ms is not None:
        parts.append(
            words.t(
                "sites.harvest",
                day=day(words, each.harvest_ms.median),
                window=window(words, each.harvest_ms.low, each.harvest_ms.high),
            )
        )
    if each.harvest_kg is not None:
        parts.append(kilograms_words(each.harvest_kg, words))
    return words.headed(each.place, words.clauses(parts))


def cohort_words(each: CohortFigures, words: Localizer) -> str:
    """What comes next of a cohort, and when."""
    coming = words.t(
        "cohorts.event",
        event=words.t(f"seen.{each.event}"),
        day=day(words, each.when_ms.median),
        window=window(words, each.when_ms.low, each.when_ms.high),
    )
    living = words.t(f"stage.{each.stage}") if each.stage else ""
    late = words.t("sites.late") if each.is_late else ""
    return words.headed(each.cohort, words.clauses(part for part in (living, coming, late) if part))


def week_words(each: WeekFigures, words: Localizer) -> Iterator[str]:
    """What is to be had in a week."""
    parts = yield_words(each.eggs_g, each.larvae_kg, words)
    if parts:
        days = window(words, each.from_ms + NOON_MS, each.to_ms - NOON_MS)
        yield words.headed(days, words.listing(parts))


def board_words(each: BoardFigures, words: Localizer) -> str:
    """Whether a board needs a hand, its battery, when it was heard."""
    parts = [words.t("sites.board_to_mend" if each.is_to_mend else "sites.board_fine")]
    if each.battery_v is not None:
        parts.append(words.value(Quantity.BATTERY, each.battery_v))
    if each.heard_ms is not None:
        parts.append(words.t("sites.heard", at=words.clock(each.heard_ms)))
    return words.headed(each.node, words.clauses(parts))
