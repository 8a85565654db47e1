"""The command line as a whole: which commands there are, what `--help` says, how errors end.

Each module in `COMMAND_MODULES` has `register(app)`, which adds its commands. Commands print through `output`
and raise errors of `monitor.errors`; `run` turns these into a text and an exit code:

    0    fine
    1    `now` says that something is wrong
    2    wrong use, or a problem in the settings
    3    the database
    4    the broker
    5    anything else
    130  stopped with Ctrl-C
"""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from monitor import __version__
from monitor.cli import (
    alarms,
    bins,
    calibrate,
    cohorts,
    copies,
    forecast,
    imports,
    output,
    reading,
    running,
    setup,
    trial,
)
from monitor.cli.output import ExitCode, complain, report, report_unexpected, say
from monitor.errors import MonitorError

# In the order in which --help shows them; a module with more commands is added here.
COMMAND_MODULES = (
    running,
    setup,
    reading,
    forecast,
    alarms,
    cohorts,
    bins,
    trial,
    calibrate,
    imports,
    copies,
)

EPILOG = "\n\n".join(
    (
        "To see it work without sensors: [bold]rearing-monitor demo[/bold]",
        "To start with your own farm: [bold]rearing-monitor init[/bold], "
        "then [bold]rearing-monitor check[/bold], then [bold]rearing-monitor run[/bold]",
        output.TEXT,
    )
)


def build_app() -> typer.Typer:
    """The typer application with every command."""
    app = typer.Typer(
        name="rearing-monitor",
        help="Watches the climate where your insects live, and wakes you when they need you.",
        epilog=EPILOG,
        no_args_is_help=True,
        rich_markup_mode="rich",
        pretty_exceptions_enable=False,
        add_completion=False,
        context_settings={"help_option_names": ["--help", "-h"]},
    )
    app.callback()(_root)
    for module in COMMAND_MODULES:
        module.register(app)
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


def one_command(words: list[str]) -> list[str]:
    """`calibrate probe` is two words for a person, and one command beside `calibrate SENSOR`."""
    two = words[:2] == ["calibrate", "probe"]
    return [calibrate.ONE_WORD, *words[2:]] if two else words


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; a person never sees a traceback."""
    try:
        words = list(sys.argv[1:] if arguments is None else arguments)
        build_app()(one_command(words), prog_name="rearing-monitor")
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else ExitCode.FINE
    except MonitorError as error:
        return report(error)
    except KeyboardInterrupt:
        complain("stopped", style="quiet")
        return ExitCode.STOPPED
    except Exception as error:
        return report_unexpected(error)
    return ExitCode.FINE
