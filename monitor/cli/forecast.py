"""`forecast`, `supply`, `learn`: when flies come, whether the cages stay filled, what the farm has taught."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from monitor.cli.context import SiteContext, looking, say_lines
from monitor.cli.entries import known_cohort
from monitor.cli.json_records import cohort_json, forecast_json, learn_json, supply_json
from monitor.cli.options import ConfigOption, JsonOption
from monitor.cli.output import say, say_json, width
from monitor.errors import StoreError, UsageError
from monitor.farm.cohorts import CohortView, ForecastView, keep_forecasts, view_of
from monitor.farm.development import Development, develop
from monitor.farm.supply import SUPPLY_DAYS, learn_view, supply_view
from monitor.store import Store
from monitor.words.cohorts import cohort_lines, forecast_lines
from monitor.words.supply import learn_lines, supply_lines

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
    with looking(config) as look:
        if name:
            known_cohort(name, look)
        development = develop(look.store, look.plan, look.now_ms)
        view = view_of(look.store, development)
        _keep(look, development)
    if name and view.of(name) is None:
        raise UsageError(f"{name} has ended; `cohort show {name}` shows what became of it")
    if picture is not None:
        _draw(view, name, picture, look)
    if as_json:
        _say_json(view, name, look)
    elif name:
        say_lines([line for each in view.cohorts if each.cohort.name == name for line in _one(each, look)])
    else:
        say_lines(list(forecast_lines(view, look.zone, width())))


def _one(view: CohortView, look: SiteContext) -> list[str]:
    return list(cohort_lines(view, look.zone, width()))


def _say_json(view: ForecastView, name: str, look: SiteContext) -> None:
    found = view.of(name)
    if found is None:
        say_json(forecast_json(view, look.plan, look.zone))
    else:
        say_json(cohort_json(found.cohort, look.plan, look.zone, found))


def _keep(look: SiteContext, development: Development) -> None:
    """Keep the day's first forecasts, to be held against what comes; left out without the right to write."""
    try:
        with Store.open(look.farm.settings.store.path, create=False, check=False) as store:
            keep_forecasts(store, development)
    except StoreError:
        return


def _draw(view: ForecastView, name: str, picture: Path, look: SiteContext) -> None:
    from monitor.charts.calendar import calendar_svg
    from monitor.charts.emergence import emergence_svg

    found = view.of(name)
    svg = calendar_svg(view, look.zone) if found is None else emergence_svg(found, look.zone)
    try:
        picture.write_text(svg, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{picture} cannot be written: {error.strerror}") from None
    say(f"{picture} written", "good")


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
    with looking(config) as look:
        view = supply_view(develop(look.store, look.plan, look.now_ms), least, days)
    if as_json:
        say_json(supply_json(view, look.zone))
    else:
        say_lines(list(supply_lines(view, look.zone, width())))


def learn(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show what this farm has taught: its own numbers beside those from papers, and past forecasts."""
    with looking(config) as look:
        view = learn_view(look.store, develop(look.store, look.plan, look.now_ms))
    if as_json:
        say_json(learn_json(view))
    else:
        say_lines(list(learn_lines(view, width())))
