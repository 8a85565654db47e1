"""The command line as a whole: which commands there are, what `--help` says, how errors end.

A command's module is imported when the command is called; its `register(app)` adds the commands.
Commands print through `output` and raise errors of `monitor.errors`, which `run` turns into a text and an
exit code.
"""

from __future__ import annotations

import gc
import importlib
import io
import os
import sys
from collections.abc import Mapping, Sequence
from contextvars import copy_context
from dataclasses import dataclass
from types import ModuleType
from typing import Annotated, Any

import typer
from typer.core import TyperGroup
from typer.main import get_group

from monitor import __version__
from monitor.errors import MonitorError
from monitor.terminal.output import EXIT_CODES, ExitCode, complain, report, report_unexpected, say

HELP_OPTIONS = frozenset({"--help", "-h"})
RUNNING, SETTING_UP, LOOKING, ACTING, DATA = "Run", "Set up", "Look", "Act", "Data"
MANY = "Many sites"
EPILOG = "\n\n".join(
    (
        "To see it work without sensors: [bold]rearing-monitor demo[/bold]",
        "To start with your own farm: [bold]rearing-monitor init[/bold], "
        "then [bold]rearing-monitor check[/bold], then [bold]rearing-monitor run[/bold]",
        EXIT_CODES,
    )
)


# By module, in the order in which --help shows them. A command is the function of its name in its module.
_BY_MODULE: tuple[tuple[str, str, str], ...] = (
    ("running", RUNNING, "demo run"),
    ("init", SETTING_UP, "init"),
    ("setup", SETTING_UP, "check"),
    ("doors", SETTING_UP, "broker page"),
    ("reading", LOOKING, "now night nodes alarms"),
    ("forecast", LOOKING, "forecast supply learn"),
    ("yields", LOOKING, "yields"),
    ("alarms", ACTING, "ack shelve unshelve take-out put-back place"),
    ("boards", ACTING, "board"),
    ("cohorts", ACTING, "cohort"),
    ("bins", ACTING, "bin"),
    ("yields", ACTING, "eggs hatched dead note"),
    ("entries", ACTING, "logbook"),
    ("setup", ACTING, "send-test"),
    ("calibrate", DATA, "calibrate calibrate-probe"),
    ("transfer", DATA, "import replay refill export backup"),
    ("restore", DATA, "restore"),
    ("entries", DATA, "photos"),
    ("sites", MANY, "sites sites-run sites-init"),
)


TWO_WORDS = frozenset({"calibrate-probe", "sites-run", "sites-init"})


@dataclass(frozen=True, slots=True)
class CommandEntry:
    """A command: its name, the module of this room that has it, the part of `--help` that shows it."""

    name: str
    module: str
    panel: str

    @property
    def summary(self) -> str:
        """The first paragraph of the command's own help."""
        return " ".join(str(load_command(self.name).help).partition("\n\n")[0].split())


COMMANDS: Mapping[str, CommandEntry] = {
    name: CommandEntry(name, module, panel) for module, panel, names in _BY_MODULE for name in names.split()
}


class CommandGroup(TyperGroup):
    """The group of all commands: knows them by name and summary, and imports the one that is called."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The command of the first word; some, such as `calibrate probe`, are one command of two words."""
        if len(args) > 1 and "-".join(args[:2]) in TWO_WORDS:
            args = ["-".join(args[:2]), *args[2:]]
        name, command, rest = super().resolve_command(ctx, args)
        if command is None:
            return name, None, rest
        if name not in _SERVICES:
            _load_numpy_when_used()
        loaded = load_command(str(name))
        if not gc.isenabled():
            gc.freeze()
            gc.enable()
        if HELP_OPTIONS & {*rest} or (isinstance(loaded, TyperGroup) and not rest):
            from monitor.terminal.context import terminal_words, translate_help

            translate_help(loaded, terminal_words())
        return name, loaded, rest

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Every command with its summary, in the language of the site or the terminal."""
        from monitor.terminal.context import terminal_words, translate_help

        for name, command in self.commands.items():
            command.help = COMMANDS[name].summary
        translate_help(self, terminal_words())
        super().format_help(ctx, formatter)


# These have threads, and numpy in use from the start.
_SERVICES = frozenset({"run", "demo"})


class _LoadedWhenUsed(ModuleType):
    """A stand-in for a module that is imported when the first of its names is asked for.

    `importlib.util.LazyLoader` does not serve: a second `import` statement already loads its module.
    """

    def __getattr__(self, name: str) -> Any:
        sys.modules.pop(self.__name__, None)
        vars(self).update(vars(importlib.import_module(self.__name__)))
        return vars(self)[name]


def _load_numpy_when_used() -> None:
    """Let `import numpy` wait until numpy is used: a third of the time of `now`, which does without."""
    if "numpy" not in sys.modules:
        sys.modules["numpy"] = _LoadedWhenUsed("numpy")


def load_command(name: str) -> Any:
    """The command of this name with all its options, from its module."""
    app = _group(TyperGroup)
    importlib.import_module(f"monitor.cli.{COMMANDS[name].module}").register(app)
    return get_group(app).commands[name]


def build_app() -> typer.Typer:
    """The application; its commands are placeholders with names; `--help` adds the summaries."""
    app = _group(CommandGroup)
    for name, entry in COMMANDS.items():
        app.command(name, rich_help_panel=entry.panel)(lambda: None)
    return app


def _group(kind: type[TyperGroup]) -> typer.Typer:
    app = typer.Typer(
        cls=kind,
        name="rearing-monitor",
        help="Watches the climate where your insects live, and wakes you when they need you.",
        epilog=EPILOG,
        no_args_is_help=True,
        rich_markup_mode="rich",
        pretty_exceptions_enable=False,
        add_completion=False,
        context_settings={"help_option_names": sorted(HELP_OPTIONS)[::-1]},
    )
    app.callback()(_root)
    return app


def _show_version(wanted: bool) -> None:
    if wanted:
        say(f"rearing-monitor {__version__}")
        raise typer.Exit


def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Options of the program itself come before the command."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and end the process with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal whose letters are few gets a ? in place of a sign that it does not have.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; a person never sees a traceback."""
    # In a context of its own, so that the language of one run does not stay for the next.
    return copy_context().run(_run, arguments)


def _run(arguments: Sequence[str] | None) -> int:
    # pydantic looks through every installed package for its plugins; none is used here.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        build_app()(arguments, prog_name="rearing-monitor")
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else ExitCode.FINE
    except (MonitorError, KeyboardInterrupt, Exception) as error:
        from monitor.terminal.context import terminal_words

        words = terminal_words()
        if isinstance(error, MonitorError):
            return report(error, words)
        if isinstance(error, KeyboardInterrupt):
            complain(words.t("failure.stopped"), style="quiet")
            return ExitCode.STOPPED
        return report_unexpected(error, words)
    return ExitCode.FINE
