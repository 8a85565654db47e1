"""Options and arguments that several commands share, so that they read the same everywhere."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

from monitor.logbook.amounts import MATERIALS, SIZES
from monitor.logbook.times import MOMENTS

ConfigOption = Annotated[
    Path | None,
    typer.Option(
        "--config",
        "-c",
        metavar="FILE",
        envvar="REARING_CONFIG",
        help="The settings file. Without it: farm.toml here, the one in your own settings folder, "
        "or that of the installed service.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for other programs instead of text.")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="Print only what is wrong.")]

NameArgument = Annotated[str, typer.Argument(metavar="COHORT", help="Name of the cohort.")]
PlaceArgument = Annotated[str, typer.Argument(metavar="PLACE", help="Id of a place in the settings.")]
AtOption = Annotated[
    str,
    typer.Option("--at", metavar="TIME", help=f"When it was, such as {MOMENTS}. A day alone means its noon."),
]
RightTimeOption = Annotated[str, typer.Option("--at", metavar="TIME", help="The time that is right.")]
WithdrawOption = Annotated[bool, typer.Option("--withdraw", help="It does not count any more.")]
ByOption = Annotated[
    str, typer.Option("--by", metavar="NAME", help="Who says so. Without it: your user name.")
]
NoteOption = Annotated[str, typer.Option("--note", help="Anything worth knowing later.")]
SureOption = Annotated[
    bool, typer.Option("--sure", help="Write it without a question, however unlikely it is.")
]
EmptiedOption = Annotated[
    bool,
    typer.Option("--emptied", help="The place that they leave is empty: no alarm comes from it then."),
]
CageOption = Annotated[str, typer.Option("--cage", metavar="PLACE", help="The love cage its flies go into.")]
WithinOption = Annotated[
    str,
    typer.Option(
        "--within", metavar="DAYS", help="How sure the day is: within so many days, two times in three."
    ),
]

BinArgument = Annotated[
    str, typer.Argument(metavar="BIN", help="Id or title of a bin, tray or box in the settings.")
]
MaterialsArgument = Annotated[
    list[str],
    typer.Argument(
        metavar="MATERIAL...",
        help=f"What was put in, once for each: {MATERIALS}. Quote what has spaces.",
    ),
]
SizeOption = Annotated[
    str, typer.Option("--size", metavar="SIZE", help=f"Inner size, needed once for each bin: {SIZES}.")
]
DepthOption = Annotated[
    str, typer.Option("--depth", metavar="LENGTH", help="How deep it is filled, such as 8 cm.")
]
LarvaeOption = Annotated[str, typer.Option("--larvae", metavar="NUMBER", help="How many larvae were put in.")]
AgeOption = Annotated[
    str,
    typer.Option("--age", metavar="DAYS", help="Days since they hatched; else 5, or the cohort's."),
]
CohortOption = Annotated[
    str,
    typer.Option(
        "--cohort", metavar="NAME", help="Cohort of the larvae, which moves there; else they begin a new one."
    ),
]
KilogramsArgument = Annotated[str, typer.Argument(metavar="AMOUNT", help="Such as 12.4 kg or 800 g.")]


@dataclass(frozen=True, slots=True)
class EntryOptions:
    """What every command that writes an entry of the logbook is given."""

    config: ConfigOption = None
    at: AtOption = "now"
    by: ByOption = ""
    note: NoteOption = ""
    sure: SureOption = False


@dataclass(frozen=True, slots=True)
class DayEntryOptions(EntryOptions):
    """The same for what is entered by the day."""

    at: AtOption = "today"


@dataclass(frozen=True, slots=True)
class CorrectionOptions(EntryOptions):
    """The same for a correction, whose time stays as it was unless another is given."""

    at: RightTimeOption = ""


def with_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that are the fields of its first argument, a record.

    typer reads the signature that is put together here.
    """
    first, *own = inspect.signature(command, eval_str=True).parameters.values()
    record: type[Any] = first.annotation
    hints = get_type_hints(record, include_extras=True)
    shared = [
        inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=inspect.Parameter.empty if field.default is MISSING else field.default,
            annotation=hints[field.name],
        )
        for field in fields(record)
    ]

    @functools.wraps(command)
    def run(**values: object) -> None:
        options = record(**{parameter.name: values.pop(parameter.name) for parameter in shared})
        command(options, **values)

    run.__signature__ = inspect.Signature([*own, *shared])  # type: ignore[attr-defined]
    return run
