"""The options of `init`: what a person may say in advance instead of answering a question."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from monitor.views.cli.questions import ADDRESS_VARIABLE, known_time_zone, usable_address


def _count(what: str) -> Any:
    return typer.Option(min=0, max=200, metavar="NUMBER", help=f"How many {what}.")


YesOption = Annotated[bool, typer.Option("--yes", "-y", help="Ask nothing; take options and proposals.")]
ForceOption = Annotated[
    bool, typer.Option("--force", help="Replace a file that is there; the old one is kept beside it.")
]
NameOption = Annotated[str, typer.Option(metavar="NAME", help="Name of the farm.")]
TimeZoneOption = Annotated[
    str,
    typer.Option(
        metavar="REGION/CITY",
        callback=known_time_zone,
        help="Time zone of the farm; else that of this computer.",
    ),
]
AltitudeOption = Annotated[
    float, typer.Option(min=-430, max=6000, metavar="METRES", help="Height above sea level.")
]
CagesOption = Annotated[int, _count("love cages")]
TraysOption = Annotated[int, _count("hatching trays")]
BinsOption = Annotated[int, _count("grow-out bins")]
BoxesOption = Annotated[int, _count("pupation boxes")]
BrokerOption = Annotated[
    str,
    typer.Option(
        metavar="HOST", help="Computer on which a broker runs already; else this program runs one itself."
    ),
]
AddressOption = Annotated[
    str,
    typer.Option(metavar="URL", callback=usable_address, help="Where messages go, as an apprise address."),
]
FromEnvironmentOption = Annotated[
    bool, typer.Option("--address-in-env", help=f"Take the address from {ADDRESS_VARIABLE} at every start.")
]
