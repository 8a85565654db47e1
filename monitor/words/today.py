"""What a day asks for, in words: for the page, the command line, the night report and the morning message."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.bins.outlook import MoistureOutlook
from monitor.bins.substrate import Zone
from monitor.climate.surfaces import MOULD_HOURS, MOULD_HUMIDITY_PERCENT
from monitor.farm.bins import BinView
from monitor.farm.cohorts import DueEvent, ForecastView
from monitor.farm.night_records import BoardCare
from monitor.farm.records import ActiveAlarm, NodeRow
from monitor.farm.today import TODAY_H, DampSurface, DueToday, Task, TaskKind, Today
from monitor.records import MS_PER_HOUR, Quantity
from monitor.words import boards
from monitor.words.alarms import what_is_so
from monitor.words.bins import chance, harvest_sentences, heat_words, hours, moisture_basis, why_unknown
from monitor.words.cohorts import ask_line, due_line, warning_sentences
from monitor.words.entries import entry_text
from monitor.words.localizer import Localizer, capitalised, entry, inside, kilograms, litres, percent, window

MOST_DUE = 12


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the report: its heading and its lines."""

    title: str
    lines: tuple[str, ...]


def due_sections(due: DueToday | None, words: Localizer) -> list[Section]:
    """What the day asks for; no section where there is nothing to say."""
    if due is None:
        return []
    sections = [
        Section(words.t("today.heading"), tuple(f"- {line}" for line in task_lines(due, words))),
        Section(words.t("night.water_heading"), tuple(f"- {line}" for line in _watering(due, words))),
        Section(words.t("night.walls_heading"), tuple(f"- {line}" for line in _damp(due.surfaces, words))),
    ]
    if due.surfaces_error is not None:
        said = words.t("night.no_watering", why=words.error(due.surfaces_error))
        sections.append(Section(words.t("night.walls_heading"), (f"- {said}",)))
    if due.forecast_error is not None:
        said = words.t("night.no_forecast", why=words.error(due.forecast_error))
        sections.append(Section(words.t("part.cohorts"), (f"- {said}",)))
    if due.forecast is not None:
        today = tuple(f"- {line}" for line in _cohorts(due.forecast, words))
        week = tuple(f"- {line}" for line in _week(due.forecast, words))
        sections.append(Section(words.t("part.cohorts"), today))
        sections.append(Section(words.t("night.cohorts_week_heading"), week))
    return [section for section in sections if section.lines]


def task_lines(due: DueToday, words: Localizer) -> Iterator[str]:
    """Every task of the day in order, then what was done already."""
    for task in due.today.left:
        yield task_line(task, words)
    for task in due.today.done:
        yield words.t("today.was_done", what=done_text(task, words))


def now_tasks(today: Today, words: Localizer, width: int) -> list[str]:
    """What is left today and what was done, for a terminal; nothing where there is neither."""
    left = (line for task in today.left for line in entry("  ", task_line(task, words), width, 4))
    done = [words.t("today.was_done", what=done_text(task, words)) for task in today.done]
    lines = [*left, *(line for text in done for line in entry("  ", text, width, 4))]
    return ["", words.t("today.heading"), *lines] if lines else []


def _watering(due: DueToday, words: Localizer) -> Iterator[str]:
    """What is to be said of bins beside their tasks: what is not known, or that none needs water."""
    if due.bins_error is not None:
        yield words.t("night.no_watering", why=words.error(due.bins_error))
    if due.bins is None:
        return
    unknown = [view for view in due.bins.bins if view.outlook is None]
    asked = any(task.kind in (TaskKind.WATER, TaskKind.DRY) for task in due.today.left)
    if due.bins.bins and not unknown and not asked:
        yield words.t("night.none_needs_water")
    for view in unknown:
        why = why_unknown(view, words) if view.failed else words.t("night.bin_unknown")
        yield words.headed(view.title, inside(why))


def task_line(task: Task, words: Localizer) -> str:
    """A task as one line of a report, with all that it rests on."""
    about = task.about
    if isinstance(about, BinView) and about.outlook is not None and task.kind is TaskKind.DRY:
        return _wet_line(about, about.outlook, words)
    if isinstance(about, BinView) and about.outlook is not None and task.kind is TaskKind.WATER:
        return _water_line(about, about.outlook, words)
    if isinstance(about, DueEvent):
        line = due_line(about, words)
        return words.t("night.not_entered", due=line) if about.high_ms < words.now_ms else line
    return words.headed(task_text(task, words), inside(why(task, words)))


def _wet_line(view: BinView, moisture: MoistureOutlook, words: Localizer) -> str:
    return words.t(
        "night.bin_wet",
        title=view.title,
        zone=inside(words.t(f"zone.{moisture.zone}")),
        share=percent(words, moisture.median),
        bran=kilograms(words, moisture.bran_kg),
        basis=moisture_basis(view, words),
    )


def _water_line(view: BinView, moisture: MoistureOutlook, words: Localizer) -> str:
    return words.t(
        "night.bin_water",
        title=view.title,
        amount=litres(words, moisture.litres),
        when=_when(moisture, view.now_ms, words),
        share=percent(words, moisture.median),
        low=percent(words, moisture.low),
        high=percent(words, moisture.high),
        basis=moisture_basis(view, words),
    )


def task_text(task: Task, words: Localizer) -> str:
    """What a task asks for, in a few words: "Water: Grow-out bin 1"."""
    return words.headed(task_name(task, words), subject_text(task, words))


def task_name(task: Task, words: Localizer) -> str:
    """The few words without the subject; of a cohort the event to look for."""
    if task.kind is TaskKind.SEE:
        event = words.t(f"seen.{task.detail}") if task.detail else words.t("kind_of.flies")
        return capitalised(event)
    return words.t(f"today.{task.kind}")


def subject_text(task: Task, words: Localizer) -> str:
    """The name of what a task is about."""
    return task.title or inside(words.quantity_name(task.subject))


def why(task: Task, words: Localizer) -> str:
    """Why it is asked for, in one sentence."""
    about = task.about
    match about:
        case BinView() if task.kind is TaskKind.HARVEST:
            return next(harvest_sentences(about.harvest, words)) if about.harvest is not None else ""
        case BinView() if task.kind is TaskKind.COOL and about.heat is not None:
            return heat_words(about.heat, words)
        case BinView() if about.outlook is not None:
            if task.kind is TaskKind.DRY:
                zone, share = words.t(f"zone.{about.outlook.zone}"), percent(words, about.outlook.median)
                return f"{zone} ({share})"
            return capitalised(_when(about.outlook, about.now_ms, words))
        case DueEvent():
            return words.t(
                "today.window", window=window(words, about.low_ms, about.high_ms), place=about.place
            )
        case ActiveAlarm():
            return what_is_so(about, words)
        case NodeRow():
            return next(boards.reasons(BoardCare(about, ()), words), words.t("today.board_look"))
    return words.t("unguarded.asks") if task.kind is TaskKind.ANSWER else ""


def done_text(task: Task, words: Localizer) -> str:
    """What was done, by whom and when; of what was not done only what it asked for."""
    done = task.done
    if done is None:
        return task_text(task, words)
    if done.entry is None:
        said = task_text(task, words)
    else:
        said = words.headed(task.title, inside(entry_text(done.entry, words, str)))
    return words.t("today.done", what=said, who=done.who, at=words.clock(done.at_ms))


def _when(moisture: MoistureOutlook, now_ms: int, words: Localizer) -> str:
    if moisture.to_limit is None or moisture.to_warning is None or moisture.zone is Zone.TOO_DRY:
        return words.t("night.dry_now")
    earliest_h = moisture.to_limit.earliest_h
    if earliest_h <= 0.0:
        return words.t("night.dry_perhaps_now")
    if earliest_h < TODAY_H:
        median_h = moisture.to_limit.median_h
        likely = median_h < TODAY_H
        at_h, key = (median_h, "night.dry_likely") if likely else (earliest_h, "night.dry_before")
        return words.t(
            key,
            at=words.at(now_ms).clock(now_ms + round(at_h * MS_PER_HOUR)),
            chance=chance(words, moisture.to_limit.chance_within(TODAY_H)),
        )
    return words.t("night.dry_in", length=hours(words, earliest_h))


def _damp(surfaces: Iterable[DampSurface], words: Localizer) -> Iterator[str]:
    for surface in surfaces:
        state = surface.state
        if state.condenses:
            yield words.headed(surface.title, words.t("night.wall_condenses"))
        if state.mould_caution:
            caution = words.t(
                "night.wall_mould",
                humidity=words.value(Quantity.AIR_HUMIDITY, MOULD_HUMIDITY_PERCENT),
                damp=words.number(state.damp_hours),
                grows=words.number(MOULD_HOURS),
            )
            yield words.headed(surface.title, caution)


def _cohorts(view: ForecastView, words: Localizer) -> Iterator[str]:
    for cohort in view.cohorts:
        for warning in warning_sentences(cohort, words):
            yield words.headed(cohort.cohort.name, inside(warning))
    if view.ask is not None:
        yield ask_line(view, words)


def _week(view: ForecastView, words: Localizer) -> Iterator[str]:
    yield from (due_line(due, words) for due in view.week[:MOST_DUE])
    if len(view.week) > MOST_DUE:
        yield words.n("night.more_due", len(view.week) - MOST_DUE)
