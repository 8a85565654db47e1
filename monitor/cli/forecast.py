"""`forecast`, `supply`, `learn`: when flies come, whether the cages stay filled, what the farm has taught."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer

from monitor.cli.entries import known_cohort
from monitor.development.supply import CageSupply
from monitor.errors import StoreError, UsageError
from monitor.farm.cohorts import CohortView, ForecastView, keep_forecasts, view_of
from monitor.farm.development import Development, develop
from monitor.farm.supply import SUPPLY_DAYS, CageView, SupplyView, learn_view, supply_view
from monitor.settings.species import published_times
from monitor.store import Store
from monitor.terminal.context import ConfigOption, JsonOption, SiteContext, looking, say_lines, write_picture
from monitor.terminal.json_records import cohort_json, forecast_json, learn_json, published_json, supply_json
from monitor.terminal.output import say_json, width
from monitor.words.cohorts import ask_line, cohort_sentences, due_line, standing_words
from monitor.words.entries import refused_sentence
from monitor.words.localizer import Localizer, animals, day, entry
from monitor.words.supply import (
    NOON_MS,
    Learned,
    PublishedLine,
    by_event_heading,
    cage_title,
    learned,
    published_lines,
    remedy_sentences,
    verdict_sentence,
)

START_COMMAND = 'rearing-monitor cohort start eggs-1 tray-1 --stage egg --at "yesterday 18:00" --grams 5'
BAR_WIDTH = 24
_FORECAST_EXAMPLE = (
    "Examples: [bold]rearing-monitor forecast[/bold], "
    "[bold]rearing-monitor forecast eggs-1 --picture eggs-1.svg[/bold]"
)


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("forecast", epilog=_FORECAST_EXAMPLE)(forecast)
    app.command("supply")(supply)
    app.command("learn")(learn)


def forecast(
    name: Annotated[
        str, typer.Argument(metavar="[COHORT]", help="One cohort; left out: all that live.")
    ] = "",
    config: ConfigOption = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            help="Write an SVG: the emergence of one cohort, or the calendar of all.", metavar="FILE"
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Say when each cohort hatches, crawls off, rests and emerges, and what that rests on."""
    with looking(config) as site:
        if name:
            known_cohort(name, site)
        development = develop(site.store, site.plan, site.now_ms)
        view = view_of(site.store.forecasts.every(), development)
        _keep(site, development)
    cohort = view.of(name)
    if name and cohort is None:
        raise UsageError("{name} has ended; `cohort show {name}` shows what became of it", name=name)
    if picture is not None:
        _draw(view, cohort, picture, site)
    if as_json:
        say_json(
            forecast_json(view, site.plan, site.zone)
            if cohort is None
            else cohort_json(cohort.cohort, site.plan, site.zone, cohort)
        )
    elif cohort is not None:
        say_lines(list(cohort_lines(cohort, site.words, width())))
    else:
        say_lines(list(forecast_lines(view, site.words, width())))


def forecast_lines(view: ForecastView, words: Localizer, columns: int) -> Iterator[str]:
    """What is due, each cohort, what to look for, and the entries that do not count."""
    if not view.cohorts:
        yield from entry("", words.t("cohorts.none_yet", command=START_COMMAND), columns)
    elif not view.today and not view.week:
        yield words.t("cohorts.nothing_due")
    for key, events in (("today", view.today), ("week", view.week), ("overdue", view.overdue)):
        if events:
            yield words.t("cohorts.heading", title=words.t(f"cohorts.{key}"))
        for due in events:
            yield from entry("  ", due_line(due, words), columns, 13)
    for cohort in view.cohorts:
        yield ""
        yield from cohort_lines(cohort, words, columns)
    if view.ask is not None:
        yield ""
        yield from entry("", ask_line(view, words), columns)
    for refusal in view.refused:
        yield from entry("! ", refused_sentence(refusal, words), columns)


def cohort_lines(view: CohortView, words: Localizer, columns: int) -> Iterator[str]:
    """One cohort: where it stands, what comes, and what that rests on."""
    yield from entry(f"{view.cohort.name}  ", standing_words(view, words), columns)
    for text in cohort_sentences(view, words):
        yield from entry("  ", text, columns, 4)


def _keep(site: SiteContext, development: Development) -> None:
    """Keep the day's first forecasts, to be held against what comes; left out without the right to write."""
    try:
        with Store.open(site.farm.settings.store.path, create=False, check=False) as store:
            keep_forecasts(store, development)
    except StoreError:
        return


def _draw(view: ForecastView, cohort: CohortView | None, picture: Path, site: SiteContext) -> None:
    from monitor.charts.calendar import calendar_svg
    from monitor.charts.cohort import emergence_svg

    svg = calendar_svg(view, site.words) if cohort is None else emergence_svg(cohort, site.words)
    write_picture(site, picture, svg)


def supply(
    config: ConfigOption = None,
    least: Annotated[
        float | None,
        typer.Option(
            min=0, metavar="FLIES", help="Flies that each cage should hold, in place of least_flies."
        ),
    ] = None,
    days: Annotated[int, typer.Option(min=1, max=60, help="Days ahead.")] = SUPPLY_DAYS,
    as_json: JsonOption = False,
) -> None:
    """Say how many flies will live in each love cage day by day, and what closes a gap before it opens."""
    with looking(config) as site:
        view = supply_view(develop(site.store, site.plan, site.now_ms), least, days)
    if as_json:
        say_json(supply_json(view, site.zone))
    else:
        say_lines(list(supply_lines(view, site.words, width())))


def supply_lines(view: SupplyView, words: Localizer, columns: int) -> Iterator[str]:
    """Each cage with its coming days, then what is not counted."""
    for cage in view.cages:
        yield from _cage_lines(cage, words, columns)
        yield ""
    if view.undecided:
        yield from entry("", words.t("supply.undecided", names=words.listing(list(view.undecided))), columns)
    yield from entry("", words.t("supply.eggs_rough"), columns)


def _cage_lines(cage: CageView, words: Localizer, columns: int) -> Iterator[str]:
    supply = cage.supply
    heading = words.t("cohorts.heading", title=cage_title(cage, words))
    yield from entry(f"{heading} ", verdict_sentence(cage, words), columns)
    if cage.cohorts:
        yield from entry("  ", f"{words.t('supply.from')} {words.listing(list(cage.cohorts))}", columns, 4)
        if not supply.least_flies:
            yield from entry("  ", words.t("supply.no_least"), columns, 4)
    if supply.uncounted:
        names = words.listing(list(supply.uncounted))
        yield from entry("  ", words.t("supply.uncounted", names=names), columns, 4)
    for text in remedy_sentences(cage, words):
        yield from entry("  ", text, columns, 4)
    if cage.cohorts:
        yield from _day_lines(supply, words)


def _day_lines(supply: CageSupply, words: Localizer) -> Iterator[str]:
    top = max(max(each.high for each in supply.days), supply.least_flies, 1.0)
    for each in supply.days:
        filled = round(BAR_WIDTH * each.living / top)
        low, high = animals(words, each.low), animals(words, each.high)
        notes = [f"{animals(words, each.living):>7} ({words.t('value.span', low=low, high=high)})"]
        if each.living < supply.least_flies:
            notes.append(words.t("supply.day_short"))
        if each.eggs >= 1.0:
            notes.append(words.t("supply.day_eggs", count=animals(words, each.eggs)))
        bar = "█" * filled + "·" * (BAR_WIDTH - filled)
        yield f"  {day(words, each.day_start_ms + NOON_MS):<14} {bar} {'  '.join(notes)}"


def learn(
    config: ConfigOption = None,
    published: Annotated[
        bool,
        typer.Option("--published", help="Hold the numbers in use against what papers state, with reasons."),
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Show what this farm has taught: its own numbers beside those from papers, and past forecasts."""
    if published:
        _say_published(config, as_json)
        return
    with looking(config) as site:
        view = learn_view(site.store.forecasts.every(), develop(site.store, site.plan, site.now_ms))
    if as_json:
        say_json(learn_json(view))
    else:
        say_lines(list(learn_lines(learned(view, site.words), site.words, width())))


def _say_published(config: Path | None, as_json: bool) -> None:
    with looking(config) as site:
        times = published_times(site.plan.species)
    if as_json:
        say_json(published_json(site.plan.species.species.name, times))
    else:
        say_lines(list(published_table(published_lines(times, site.words), site.words, width())))


def published_table(lines: Sequence[PublishedLine], words: Localizer, columns: int) -> Iterator[str]:
    """Each published time in columns, its source and the reason for a difference beneath it."""
    yield from entry("", words.t("published.head" if lines else "published.none"), columns)
    if not lines:
        return
    keys = ("stage", "temperature", "papers", "ours")
    heads = [words.t(f"published.{key}") for key in keys]
    cells = [(each.what, each.temperature, each.said, each.ours) for each in lines]
    widths = [max(len(row[index]) for row in (heads, *cells)) for index in range(len(keys))]
    for row, line in zip((heads, *cells), (None, *lines), strict=True):
        columned = "  ".join(cell.ljust(size) for cell, size in zip(row, widths, strict=True))
        yield f"  {columned}  {'' if line is None else line.verdict}".rstrip()
        if line is not None:
            yield from entry("      ", line.source, columns, 6)
        if line is not None and line.reason:
            yield from entry("      ", words.t("published.reason", reason=line.reason), columns, 6)


def learn_lines(known: Learned, words: Localizer, columns: int) -> Iterator[str]:
    """The constants of each stage in columns, the spread, and how good past forecasts were."""
    yield from entry("", known.head, columns)
    heads = (words.t(f"learned.{key}") for key in ("stage", "papers", "own", "rests"))
    heading = "  {:<9} {:>22} {:>22}   {}".format(*heads)
    for title, rows in known.feeds:
        yield from ("", words.t("cohorts.heading", title=title), heading)
        for row in rows:
            yield f"  {row.stage:<9} {row.papers:>22} {row.own:>22}   {row.rests}"
    yield ""
    yield from entry("", known.spread, columns)
    yield ""
    if known.by_event:
        yield words.t("learned.scores")
    for text in known.scores:
        yield from entry("  ", text, columns, 4)
    if known.by_event:
        yield f"  {by_event_heading(words)}"
        for text in known.by_event:
            yield from entry("    ", text, columns, 6)
        yield from entry("  ", words.t("learned.should_hold"), columns)
