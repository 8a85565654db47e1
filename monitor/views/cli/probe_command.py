"""`calibrate probe`: a capacitive moisture probe against an oven, in the substrate in which it stands."""

from __future__ import annotations

from typing import Annotated

import typer

from monitor.errors import UsageError
from monitor.model.amounts import SHARES, parse_share
from monitor.model.probe_calibration import FEWEST_POINTS, CalibrationPoint, ProbeCalibration
from monitor.records import Quantity, SensorKey
from monitor.views.bin_words import percent
from monitor.views.cli.asking import person
from monitor.views.cli.cohort_options import ByOption, moment_of
from monitor.views.cli.looking import Look, looking, working
from monitor.views.cli.options import DATA, ConfigOption
from monitor.views.cli.output import say
from monitor.views.probe_queries import RAW_AIR, RAW_WATER, calibration_entry, probe_calibration
from monitor.views.sensor_names import known_sensors, only_one

ONE_WORD = "calibrate-probe"
_EXAMPLE = (
    "Example: [bold]rearing-monitor calibrate probe bin-3 --air 0.02 --water 0.97 --raw 0.41 --true '44 %' "
    "--raw 0.50 --true '53 %' --raw 0.62 --true '64 %' --raw 0.73 --true '74 %'[/bold]"
)


def register(app: typer.Typer) -> None:
    """Add the command of this module; the group of all commands understands it as two words as well."""
    app.command(ONE_WORD, rich_help_panel=DATA, epilog=_EXAMPLE)(calibrate_probe)


def calibrate_probe(
    sensor: Annotated[
        str, typer.Argument(metavar="PROBE", help="Such as bin-3, or node-10/substrate_moisture.")
    ],
    config: ConfigOption = None,
    raw: Annotated[
        list[float] | None,
        typer.Option("--raw", metavar="NUMBER", help="What the probe said. Once for each point."),
    ] = None,
    true: Annotated[
        list[str] | None,
        typer.Option("--true", metavar="MOISTURE", help=f"By the oven: {SHARES}. Once for each point."),
    ] = None,
    air: Annotated[float, typer.Option("--air", metavar="NUMBER", help="What it says in air.")] = RAW_AIR,
    water: Annotated[
        float, typer.Option("--water", metavar="NUMBER", help="What it says in water.")
    ] = RAW_WATER,
    at: Annotated[str, typer.Option("--at", metavar="TIME", help="When it was done.")] = "now",
    by: ByOption = "",
) -> None:
    """Calibrate a moisture probe against an oven, at four moistures or more of the substrate it stands in.

    Until then its value is an index between air and water, not a moisture, and counts for nothing. Without
    --raw and --true: what holds now.
    """
    if not raw and not true and (air, water) == (RAW_AIR, RAW_WATER):
        with looking(config) as look:
            which = _probe(sensor, look)
            _show(which, probe_calibration(look.store, which))
        return
    points = _points(raw or [], true or [])
    with working(config) as look:
        which = _probe(sensor, look)
        at_ms = moment_of(at, look)
        if at_ms > look.now_ms:
            raise UsageError(f"--at {at} lies ahead; allowed: times that are past")
        entry, made = calibration_entry(which, points, (air, water), at_ms, look.now_ms, person(by))
        look.store.logbook.add(entry)
        say("Entered:", "good")
        _show(which, made)


def _probe(written: str, look: Look) -> SensorKey:
    known = known_sensors(look.store.readings.sensors(), look.plan)
    probes = tuple(key for key in known if key.quantity == Quantity.SUBSTRATE_MOISTURE)
    if not probes:
        raise UsageError("no board measures substrate_moisture, so there is no probe to calibrate")
    return only_one(written, probes, look.plan)


def _points(raw: list[float], true: list[str]) -> tuple[CalibrationPoint, ...]:
    if len(raw) != len(true):
        raise UsageError(f"{len(raw)} times --raw and {len(true)} times --true; allowed: as many of each")
    return tuple(CalibrationPoint(said, parse_share(each)) for said, each in zip(raw, true, strict=True))


def _show(sensor: SensorKey, made: ProbeCalibration) -> None:
    ends = f"in air {made.raw_air:g}, in water {made.raw_water:g}"
    if not made.is_calibrated:
        say(f"{sensor}: an index only ({ends}); for a moisture it needs {FEWEST_POINTS} points by the oven")
        return
    span = f"{percent(made.moisture[0])} to {percent(made.moisture[-1])}"
    say(f"{sensor}: moisture from {span}, {ends}; a point is off by {100 * made.residual:.1f} % or so")
