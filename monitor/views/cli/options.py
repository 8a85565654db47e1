"""Options and panels that several commands share, so that they read the same everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

RUNNING = "Run"
SETTING_UP = "Set up"
LOOKING = "Look"
ACTING = "Act"
DATA = "Data"

ConfigOption = Annotated[
    Path | None,
    typer.Option(
        "--config",
        "-c",
        metavar="FILE",
        envvar="REARING_CONFIG",
        help="The settings file. Without it: farm.toml here, then the one in your own settings folder.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for other programs instead of text.")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="Print only what is wrong.")]
