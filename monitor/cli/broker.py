"""`broker setup` gives mosquitto the farm's keys, users and rules; `broker test` proves that they hold."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.boards.broker_files import ETC, UNITS, BrokerFiles, Reload, reload, reload_command
from monitor.errors import UsageError
from monitor.terminal.context import (
    ConfigOption,
    JsonOption,
    QuietOption,
    WithoutSecrets,
    command_words,
    look_at_farm,
    open_farm,
)
from monitor.terminal.output import ExitCode, at_terminal, complain, is_wanted, say, say_json
from monitor.words.localizer import Localizer

if TYPE_CHECKING:
    from monitor.boards.broker_setup import Prepared

_SETUP_EXAMPLES = (
    "Examples: [bold]rearing-monitor broker setup --dry-run[/bold], "
    "[bold]sudo rearing-monitor broker setup --config /etc/rearing-monitor/farm.toml[/bold]"
)

EtcOption = Annotated[
    Path | None,
    typer.Option(
        "--etc",
        metavar="FOLDER",
        help="Folder of mosquitto's configuration. Without it: that of the settings, else /etc/mosquitto.",
    ),
]
UnitsOption = Annotated[
    Path, typer.Option("--units", metavar="FOLDER", help="Folder of systemd's units, for --reload-unit.")
]
NamesOption = Annotated[
    list[str] | None,
    typer.Option(
        "--name",
        metavar="HOST",
        help="A name or address under which boards find this computer; once for each, first the best. "
        "Without it they are found.",
    ),
]
PortOption = Annotated[
    int | None, typer.Option(min=1, max=65535, help="Port for the monitor, on this computer alone.")
]
BoardsPortOption = Annotated[
    int | None, typer.Option("--boards-port", min=1, max=65535, help="Port for boards, encrypted.")
]
NewCaOption = Annotated[
    bool, typer.Option("--new-ca", help="Make a new CA; then every board needs a new card.")
]
ReloadUnitOption = Annotated[
    bool,
    typer.Option(
        "--reload-unit",
        help="Let systemd tell mosquitto when boards come and go, so that the monitor needs no rights of "
        "root.",
    ),
]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="Only say what would be written.")]
YesOption = Annotated[bool, typer.Option("--yes", "-y", help="Ask nothing.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    group.command("setup", epilog=_SETUP_EXAMPLES)(setup)
    group.command("test")(test)
    group.callback()(broker)
    app.add_typer(group, name="broker")


def broker() -> None:
    """The broker: set mosquitto up for boards, and prove that it keeps them apart."""


def setup(
    config: ConfigOption = None,
    etc: EtcOption = None,
    name: NamesOption = None,
    port: PortOption = None,
    boards_port: BoardsPortOption = None,
    new_ca: NewCaOption = False,
    reload_unit: ReloadUnitOption = False,
    units: UnitsOption = UNITS,
    dry_run: DryRunOption = False,
    yes: YesOption = False,
) -> None:
    """Set mosquitto up on this computer: encryption, users, rules that keep boards apart, nothing forgotten.

    It says what it will write and asks first; old files are kept beside. Given
    again, it changes nothing, or mends only what is missing.
    """
    from monitor.boards.broker_config import find_program
    from monitor.boards.broker_setup import Wish, apply, prepare

    farm = look_at_farm(config)
    words = command_words(farm.settings)
    known = farm.settings.broker.files
    folder = etc or (BrokerFiles.of(known).etc if known else ETC)
    wish = Wish(
        folder.absolute(), tuple(name or ()), port, boards_port, new_ca, reload_unit, units.absolute()
    )
    prepared = prepare(farm, wish, find_program(), datetime.now(UTC))
    for note in prepared.notes:
        complain(words.t("check.warning", warning=words.sentence(note)), "warning")
    if prepared.is_done:
        say(words.t("broker.as_it_should"), "good")
        return
    _show(prepared, words)
    if dry_run:
        say(words.t("broker.dry_run"), "quiet")
        return
    _refuse_without_rights(prepared)
    if not yes and not (at_terminal() and is_wanted(words.t("broker.sure") + " ")):
        raise UsageError(
            "nothing was written. To write it: give the command again with --yes, or say yes at a terminal"
        )
    for kept in apply(prepared, WithoutSecrets(os.environ)):
        say(words.t("init.kept", file=str(kept)))
    say(words.t("broker.written"), "good")
    _say_next(prepared, reload_unit, words)


def _show(prepared: Prepared, words: Localizer) -> None:
    """What will be written."""
    plan = prepared.plan
    say(words.t("broker.will_write"), "heading")
    for change in prepared.changes:
        say(f"  {change.path}")
    if prepared.changes_settings:
        keys = [*prepared.settings, *(f"-{key}" for key in prepared.gone)]
        say(f"  {prepared.farm.path.absolute()}: [broker] {', '.join(keys)}")
    say()
    say(words.t("broker.doors", monitor=str(plan.monitor_port), boards=str(plan.boards_port)))
    say(words.t("broker.names", names=", ".join(prepared.names)))
    if prepared.new_ca:
        say(words.t("broker.new_ca", folder=str(prepared.farm.settings.broker.boards_folder)))
    if prepared.new_ca and (prepared.farm.settings.broker.boards_folder / "cards").exists():
        say(words.t("broker.new_cards", command="rearing-monitor board card NAME"), "warning")


def _refuse_without_rights(prepared: Prepared) -> None:
    from monitor.boards.broker_setup import without_rights

    place = without_rights(prepared)
    if place is not None:
        raise UsageError(
            "you may not write in {place}; nothing was written. To mend: {command}",
            place=str(place),
            command=_with_sudo(prepared.farm.path),
        )


def _with_sudo(settings_file: Path) -> str:
    """This very command, for root, who has neither our folder nor our path of programs."""
    program = Path(sys.argv[0])
    named = ["rearing-monitor"]
    if program.name == "__main__.py":
        named = [sys.executable, "-m", "monitor"]
    elif program.is_absolute() and program.exists():
        named = [str(program)]
    given = [each for each in sys.argv[1:] if each]
    if not any(each.startswith(("--config", "-c")) for each in given):
        given += ["--config", str(settings_file.absolute())]
    return shlex.join(["sudo", *named, *given])


def _say_next(prepared: Prepared, reload_unit: bool, words: Localizer) -> None:
    """What is left to do, in order; mosquitto is told at once where that is allowed."""
    say()
    for line in _next(prepared, reload_unit, words):
        say(line)


def _next(prepared: Prepared, reload_unit: bool, words: Localizer) -> Iterator[str]:
    from monitor.boards.broker_setup import restart

    settings_file = prepared.farm.path.absolute()
    if restart(prepared, os.environ):
        yield words.t("broker.restarted")
    elif prepared.needs_restart:
        yield words.t("broker.next_restart", command=_restart_command(prepared))
    elif reload(prepared.files) is not Reload.DONE:
        yield words.t("broker.next_reload", command=reload_command(prepared.files))
    if reload_unit:
        yield words.t("broker.next_unit", command="sudo systemctl enable --now rearing-broker-reload.path")
    if prepared.changes_settings:
        yield words.t("broker.next_monitor", command="sudo systemctl restart rearing-monitor")
    option = f"--config {shlex.quote(str(settings_file))}"
    yield words.t("broker.next_test", command=f"rearing-monitor broker test {option}")
    hung = next((node for node in prepared.farm.settings.nodes if node.place), None)
    name, place = (hung.id, hung.place) if hung else ("node-01", "PLACE")
    board = f"rearing-monitor board add {name} --place {place} --sensor SENSOR"
    yield words.t("broker.next_board", command=f"{board} {option}")


def _restart_command(prepared: Prepared) -> str:
    if prepared.files.etc == ETC:
        return "sudo systemctl restart mosquitto"
    return f"mosquitto -c {prepared.files.main}"


def test(config: ConfigOption = None, as_json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Prove against the running broker that boards are kept apart and heard.

    For that it adds two users, and takes them away again. Ends with 4 when one
    of the trials fails.
    """
    from monitor.boards.broker_trial import trials

    farm = open_farm(config)
    words = command_words(farm.settings)
    found = []
    for step in trials(farm.settings, farm.path.absolute()):
        said = words.sentence(step.said)
        found.append({"good": step.good, "said": said})
        if not as_json and not step.good:
            complain("  " + words.t("check.step_bad", said=said))
        elif not as_json and not quiet:
            say("  " + words.t("check.step_good", said=said), "good")
    if as_json:
        say_json({"trials": found})
    failed = sum(not each["good"] for each in found)
    if failed:
        if not as_json:
            complain(words.n("broker.failed", failed))
        raise typer.Exit(ExitCode.BROKER)
    if not as_json and not quiet:
        say(words.t("broker.proven"), "good")
        say(words.t("broker.from_here"), "quiet")
