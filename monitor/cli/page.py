"""`page setup`: how phones reach the page, what that writes, and a code that opens it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.errors import UsageError
from monitor.terminal.context import (
    ConfigOption,
    WithoutSecrets,
    command_words,
    look_at_farm,
)
from monitor.terminal.output import at_terminal, columns, has_colour, is_wanted, say
from monitor.words.localizer import Localizer

if TYPE_CHECKING:
    from monitor.service.page_setup import PageSetup, Way

_EXAMPLES = (
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
NamesOption = Annotated[
    list[str] | None,
    typer.Option(
        "--name",
        metavar="HOST",
        help="A name or address under which phones find this computer; once for each, first the best. "
        "Without it they are found.",
    ),
]
PortOption = Annotated[int | None, typer.Option(min=1, max=65535, help="Port of the plain page.")]
HttpsPortOption = Annotated[
    int | None, typer.Option("--https-port", min=1, max=65535, help="Port of the encrypted page.")
]
AddressOption = Annotated[
    str,
    typer.Option(
        metavar="ADDRESS", help="With proxy: address under which phones reach the web server in front."
    ),
]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="Only say what would be written.")]
YesOption = Annotated[bool, typer.Option("--yes", "-y", help="Ask nothing.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    group = typer.Typer(no_args_is_help=True, rich_markup_mode="rich")
    group.command("setup", epilog=_EXAMPLES)(setup)
    group.callback()(page)
    app.add_typer(group, name="page")


def page() -> None:
    """The page for the phone: how phones reach it."""


def setup(
    config: ConfigOption = None,
    way: WayOption = "",
    name: NamesOption = None,
    port: PortOption = None,
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
        _show(prepared, words)
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
    for line in _next(prepared, words):
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


def _show(prepared: PageSetup, words: Localizer) -> None:
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


def _next(prepared: PageSetup, words: Localizer) -> Iterator[str]:
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
