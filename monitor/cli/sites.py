"""`sites`: many sites in one list, worst first, one of them whole, and the watch that notices silence."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from monitor.errors import UsageError
from monitor.sites.lookout import Known, Lookout, picture_for, seen_by
from monitor.sites.overview import Overview, SitePicture
from monitor.sites.settings import FILE_NAME, VARIABLE, Person, SitesFile, find, read
from monitor.sites.template import TEMPLATE
from monitor.sites.wording import (
    SHAPES,
    as_of,
    groups,
    heading,
    heard,
    sentences,
    standing_word,
)
from monitor.terminal.context import JsonOption, clock_ms, speak, terminal_words
from monitor.terminal.output import ExitCode, complain, say, say_json, width
from monitor.words.alarms import SIGNS
from monitor.words.localizer import Localizer, entry

_EXAMPLES = (
    "Examples: [bold]rearing-monitor sites[/bold], [bold]rearing-monitor sites north-yard[/bold], "
    "[bold]rearing-monitor sites run[/bold]"
)
_STYLES = {"high": "problem", "medium": "warning", "unknown": "warning"}

FileOption = Annotated[
    Path | None,
    typer.Option(
        "--config", "-c", metavar="FILE", envvar=VARIABLE, help="The settings of many sites, sites.toml."
    ),
]
SiteArgument = Annotated[str, typer.Argument(metavar="SITE", help="One site, whole.")]
TargetArgument = Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it.")]
PersonOption = Annotated[
    str, typer.Option("--as", metavar="PERSON", help="Only what this person of the settings may see.")
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("sites", epilog=_EXAMPLES)(sites)
    app.command("sites-run")(sites_run)
    app.command("sites-init")(sites_init)


def sites(
    site: SiteArgument = "",
    config: FileOption = None,
    person: PersonOption = "",
    as_json: JsonOption = False,
) -> None:
    """Show many sites in one list, worst first: silent ones, alarms, dry bins, eggs and larvae to be had.

    It reads their common archive alone. Ends with 1 when a site needs somebody or is silent.
    """
    file = _read(config)
    lookout, now_ms = Lookout(file), clock_ms()
    words = _words(file, now_ms)
    who = _person(file, person)
    if site:
        _show_site(lookout, site, who, words, as_json)
        return
    known = lookout.look(now_ms)
    lookout.close()
    overview = known.overview
    if overview is None:
        complain(words.t("sites.never_read", why=words.phrase(known.trouble or "")))
        raise typer.Exit(ExitCode.OTHER)
    shown = overview if who is None else seen_by(overview, who)
    if as_json:
        say_json({"trouble": known.trouble, "overview": shown})
    else:
        _show(shown, known, words)
    if known.trouble is not None:
        raise typer.Exit(ExitCode.OTHER)
    if shown.needs_somebody:
        raise typer.Exit(ExitCode.SOMETHING_WRONG)


def sites_init(target: TargetArgument = Path(FILE_NAME)) -> None:
    """Write a settings file for many sites, with every key explained."""
    try:
        with target.open("x", encoding="utf-8") as file:
            target.chmod(0o600)
            file.write(TEMPLATE)
    except FileExistsError:
        raise UsageError(
            "{file} is there already, and nothing was changed. To mend: name another file", file=target
        ) from None
    except OSError as error:
        raise UsageError("{file} cannot be written: {why}", file=target, why=error.strerror) from None
    say(terminal_words().t("sites.written", file=str(target)), "good")


def _read(config: Path | None) -> SitesFile:
    file = read(find(config, os.environ), os.environ)
    speak(file.settings.group.language)
    for warning in file.warnings:
        complain(_words(file, clock_ms()).sentence(warning), "warning")
    return file


def _words(file: SitesFile, now_ms: int) -> Localizer:
    return Localizer.plain(file.settings.group.language, file.settings.zone, now_ms)


def _person(file: SitesFile, name: str) -> Person | None:
    person = file.settings.person(name)
    if name and person is None:
        known = ", ".join(each.id for each in file.settings.people)
        raise UsageError(
            "the settings know no person {name}; allowed: {known}", name=name, known=known or "–"
        )
    return person


def _show(overview: Overview, known: Known, words: Localizer) -> None:
    say(heading(overview, words), "heading")
    say(as_of(overview, words, known.trouble), "problem" if known.trouble else "quiet")
    for line in overview.lines:
        shape = SHAPES[line.standing]
        head = f"{SIGNS[shape]} {words.headed(standing_word(line, words), line.title)}"
        say(head, _STYLES.get(shape, ""))
        for text in sentences(line, overview.read_ms, words):
            for row in entry("    ", text, width(), 4):
                say(row)


def _show_site(lookout: Lookout, site: str, who: Person | None, words: Localizer, as_json: bool) -> None:
    picture = lookout.picture(site, words.now_ms)
    if picture is not None and who is not None:
        picture = picture_for(picture, who)
    if picture is None:
        raise UsageError(
            "the archive knows no site {site}. To see which there are: rearing-monitor sites", site=site
        )
    if as_json:
        say_json(picture)
    else:
        _say_picture(picture, words)


def _say_picture(picture: SitePicture, words: Localizer) -> None:
    line = picture.line
    shape = SHAPES[line.standing]
    say(
        f"{SIGNS[shape]} {words.headed(line.title, standing_word(line, words))}",
        _STYLES.get(shape, "heading"),
    )
    say(f"  {heard(line, words)}", "quiet")
    for group in groups(picture, words):
        say()
        say(group.heading, "heading")
        for text in group.lines:
            for row in entry("  ", text, width(), 4):
                say(row)


def sites_run(config: FileOption = None) -> None:
    """Serve the page of many sites, and send a message when one of them falls silent.

    It runs until it is stopped. Nothing in a site depends on it.
    """
    from monitor.cli.running import listening, log_to_stderr, only_service
    from monitor.sites.running import SitesService

    file = _read(config)
    service = SitesService(file)
    with only_service(service.store_path), listening() as signals:
        log_to_stderr()
        service.run(lambda: bool(signals.stop))
