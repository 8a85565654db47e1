"""The doors of this computer: mosquitto for boards (`broker`), the page for phones (`page`).

`broker setup` gives mosquitto the farm's keys, users and rules, `broker test` proves that they hold;
`page setup` says how phones reach the page, what that writes, and draws a code that opens it.
"""

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
from monitor.terminal.output import (
    ExitCode,
    at_terminal,
    columns,
    complain,
    has_colour,
    is_wanted,
    say,
    say_json,
)
from monitor.words.localizer import Localizer

if TYPE_CHECKING:
    from monitor.boards.broker_setup import Prepared
    from monitor.service.page_setup import PageSetup, Way

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


_PAGE_EXAMPLES = (
    "Examples: [bold]rearing-monitor page setup[/bold], "
    "[bold]rearing-monitor page setup --way https --name farm-pc.local[/bold], "
    "[bold]rearing-monitor page setup --way proxy --address https://farm.example[/bold]"
)
WAYS = ("plain", "https", "proxy")

WayOption = Annotated[
    str,
    typer.Option(
        "--way",
        metavar="WAY",
        help="plain: in the own network, not encrypted. https: besides, encrypted by the farm's own CA, so "
        "that phones can install the page. proxy: behind another web server or a tunnel. Without it you are "
        "asked.",
    ),
]
PageNamesOption = Annotated[
    list[str] | None,
    typer.Option(
        "--name",
        metavar="HOST",
        help="A name or address under which phones find this computer; once for each, first the best. "
        "Without it they are found.",
    ),
]
PagePortOption = Annotated[int | None, typer.Option(min=1, max=65535, help="Port of the plain page.")]
HttpsPortOption = Annotated[
    int | None, typer.Option("--https-port", min=1, max=65535, help="Port of the encrypted page.")
]
AddressOption = Annotated[
    str,
    typer.Option(
        metavar="ADDRESS", help="With proxy: address under which phones reach the web server in front."
    ),
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    group.command("setup", epilog=_SETUP_EXAMPLES)(broker_setup)
    group.command("test")(broker_test)
    group.callback()(broker)
    app.add_typer(group, name="broker")
    pages = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    pages.command("setup", epilog=_PAGE_EXAMPLES)(page_setup)
    pages.callback()(page)
    app.add_typer(pages, name="page")


def broker() -> None:
    """The broker: set mosquitto up for boards, and prove that it keeps them apart."""


def broker_setup(
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


def broker_test(config: ConfigOption = None, as_json: JsonOption = False, quiet: QuietOption = False) -> None:
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


def page() -> None:
    """The page for the phone: how phones reach it."""


def page_setup(
    config: ConfigOption = None,
    way: WayOption = "",
    name: PageNamesOption = None,
    port: PagePortOption = None,
    https_port: HttpsPortOption = None,
    address: AddressOption = "",
    dry_run: DryRunOption = False,
    yes: YesOption = False,
) -> None:
    """Let phones reach the page: plain, encrypted by the farm's own CA, or behind another web server.

    It says what it will write and asks first; the old settings are kept beside.
    At the end it draws a code that opens the page on a phone.
    """
    from monitor.service.page_setup import PageWish, apply, prepare

    farm = look_at_farm(config)
    words = command_words(farm.settings)
    wish = PageWish(_way(way, words), tuple(name or ()), port, https_port, address)
    prepared = prepare(farm, wish, datetime.now(UTC))
    if prepared.is_done:
        say(words.t("page_setup.as_it_should"), "good")
    else:
        _show_page(prepared, words)
        if dry_run:
            say(words.t("broker.dry_run"), "quiet")
            return
        if not yes and not (at_terminal() and is_wanted(words.t("broker.sure") + " ")):
            raise UsageError(
                "nothing was written. To write it: give the command again with --yes, or say yes at a "
                "terminal"
            )
        kept = apply(prepared, WithoutSecrets(os.environ))
        if kept is not None:
            say(words.t("init.kept", file=str(kept)))
        say(words.t("page_setup.written"), "good")
    say()
    for line in _next_for_phones(prepared, words):
        say(line)
    _draw(prepared.start, words)


def _way(given: str, words: Localizer) -> Way:
    from monitor.service.page_setup import Way

    if not given and at_terminal():
        for number, each in enumerate(WAYS, 1):
            say(f"  {number}  {words.t(f'page_setup.way_{each}')}")
        answer = typer.prompt(words.t("page_setup.which"), default="1").strip()
        given = dict(zip("123", WAYS, strict=True)).get(answer, answer)
    if given not in WAYS:
        raise UsageError(
            'the way is "{way}"; allowed: {ways}. Nothing was changed. To mend: --way plain',
            way=given,
            ways=", ".join(WAYS),
        )
    return Way(given)


def _show_page(prepared: PageSetup, words: Localizer) -> None:
    """What will be written."""
    say(words.t("broker.will_write"), "heading")
    for file in prepared.files:
        say(f"  {file.path}")
    if prepared.settings or prepared.gone:
        keys = [*prepared.settings, *(f"-{key}" for key in prepared.gone)]
        say(f"  {prepared.farm.path.absolute()}: [page] {', '.join(keys)}")
    say()
    if prepared.names:
        say(words.t("page_setup.names", names=", ".join(prepared.names)))
    if prepared.new_authority:
        say(words.t("broker.new_ca", folder=str(prepared.farm.settings.broker.boards_folder)))
    if prepared.password:
        say(words.t("page_setup.new_password", file=str(prepared.password_file)))
    if not prepared.encrypted:
        say(words.t("page_setup.not_encrypted"), "warning")


def _next_for_phones(prepared: PageSetup, words: Localizer) -> Iterator[str]:
    """What is left to do, in order."""
    if prepared.nginx:
        yield words.t("page_setup.nginx")
        yield ""
        yield prepared.nginx
    if not prepared.is_done:
        yield words.t("broker.next_monitor", command="sudo systemctl restart rearing-monitor")
    yield words.t("page_setup.address", address=prepared.address)
    if prepared.by_number:
        yield words.t("page_setup.by_number")
    if prepared.names:
        from monitor.service.page_setup import ca_fingerprint

        yield words.t("page_setup.fingerprint", fingerprint=ca_fingerprint(prepared.farm.settings))
    yield words.t("page_setup.start" if prepared.names else "page_setup.open", address=prepared.start)


def _draw(address: str, words: Localizer) -> None:
    from monitor.boards.card import qr_in_terminal, qr_width

    if qr_width(address) <= columns():
        say(qr_in_terminal(address, coloured=has_colour(sys.stdout)))
    elif columns():
        say(words.t("board.too_narrow", columns=qr_width(address)), "quiet")
