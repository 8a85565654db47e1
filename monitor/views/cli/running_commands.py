"""`demo` plays an invented farm, `run` guards your own."""

from __future__ import annotations

import logging
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.errors import MonitorError, UsageError
from monitor.settings.loading import FarmFile
from monitor.views.cli.exit_codes import ExitCode
from monitor.views.cli.farm import open_farm
from monitor.views.cli.not_started import forget, tell_people
from monitor.views.cli.one_service import only_service
from monitor.views.cli.options import RUNNING, ConfigOption
from monitor.views.cli.output import console, say
from monitor.views.cli.run_loop import Wishes, keep_running, listening, log_to_stderr, tell

if TYPE_CHECKING:
    from monitor.service import Service
    from monitor.service.page_door import PageDoor

log = logging.getLogger(__name__)

DaysOption = Annotated[
    float, typer.Option(min=0.05, max=60, metavar="NUMBER", help="How many days of the farm's life to play.")
]
SeedOption = Annotated[
    int, typer.Option(min=0, metavar="NUMBER", help="Another number plays another weather.")
]
FolderOption = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER", help="Where its database and messages go. Without it: a new temporary folder."
    ),
]


PageOption = Annotated[bool, typer.Option("--page/--no-page", help="Serve the page for the phone.")]
StayOption = Annotated[
    bool | None,
    typer.Option(
        "--stay/--no-stay",
        help="Go on in real time afterwards, for the page, until Ctrl-C. Without it: if a person is at the "
        "terminal.",
    ),
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("demo", rich_help_panel=RUNNING)(demo)
    app.command("run", rich_help_panel=RUNNING)(run)


def demo(
    days: DaysOption = 2.0,
    seed: SeedOption = 7,
    folder: FolderOption = None,
    page: PageOption = True,
    stay: StayOption = None,
) -> None:
    """See the program at work on an invented farm: simulated sensors, real messages, no hardware needed.

    Days go by in seconds. The folder is kept, so that you can look into it with
    the other commands.
    """
    # Loaded here, so that the other commands start quickly.
    from monitor.demo.play import play
    from monitor.demo.runner import DemoPlan

    where = _demo_folder(folder)
    stays = sys.stdin.isatty() if stay is None else stay
    play(DemoPlan(where, seed=seed, days=days, page=page, stay=stays and page), console())
    say(f"Everything of this demo is in {where} and stays there. To look into it:")
    say(f"  rearing-monitor alarms --all --config {where / 'farm.toml'}")


def _demo_folder(folder: Path | None) -> Path:
    if folder is None:
        return Path(tempfile.mkdtemp(prefix="saltbush-yard-"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        is_used = any(folder.iterdir())
    except OSError as error:
        raise UsageError(f"the folder {folder} cannot be used: {error.strerror}") from None
    if is_used:
        raise UsageError(f"the folder {folder} is not empty; allowed: an empty or a new folder")
    return folder.absolute()


def run(config: ConfigOption = None) -> None:
    """Guard your farm: take readings from the broker, watch them, and wake you when it must be.

    It runs until it is stopped (Ctrl-C, or the service manager) and writes what
    happens to the terminal. After a change of the settings, `kill -HUP` of its
    process makes it read them again; wrong ones change nothing.
    """
    farm = open_farm(config, try_addresses=True)
    with only_service(farm.settings.store.path), listening() as wishes:
        log_to_stderr()
        if not _guard(farm, wishes):
            raise typer.Exit(ExitCode.OTHER)


def _open_page(door: PageDoor, service: Service) -> None:
    """A page that cannot be served is said; the guarding goes on without it."""
    from monitor.service import system_clock_ms

    try:
        log.info("the page is at %s", door.open(service, system_clock_ms))
    except UsageError as error:
        log.error("%s", error)


def _guard(farm: FarmFile, wishes: Wishes) -> bool:
    """Run the service; True when it was stopped on purpose."""
    from monitor.service import Service
    from monitor.service.page_door import PageDoor

    settings, broker = farm.settings, farm.settings.broker
    for warning in farm.warnings:
        log.warning("%s", warning)
    door = PageDoor(settings, farm.path.absolute())

    def on_event(event: object) -> None:
        tell(event)
        door.note(event)

    service = Service(settings, settings_path=farm.path.absolute(), on_event=on_event)
    service.link_for = door.link_for
    try:
        service.start()
    except MonitorError as error:
        tell_people(settings, error)
        raise
    forget(settings)
    kind = "its own broker" if broker.embedded else "the broker"
    where = f"{broker.host}:{broker.port}"
    log.info("%s: started with %s, database %s", settings.site.title, farm.path, settings.store.path)
    log.info("connecting to %s at %s", kind, where)
    try:
        if settings.page.enabled:
            _open_page(door, service)
        if door.password_file is not None:
            log.info("its first password stands in %s; only you can read it", door.password_file)
        return keep_running(service, wishes, where)
    finally:
        door.close()
        service.stop()
        log.info("stopped")
