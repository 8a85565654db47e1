"""`calibrate` enters what a sensor said and what was true, or lists what was entered.

`calibrate probe` does it for a moisture probe against an oven, in the substrate in which it stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated

import typer

from monitor.bins.probe import FEWEST_POINTS, ProbeCalibration, ProbePoint
from monitor.cli.entries import moment_of
from monitor.climate.calibration import (
    CAPACITIVE,
    SALTS,
    CalibrationPoint,
    offset_only,
    salt_humidity_percent,
    two_point,
)
from monitor.climate.quality import DEFAULT_LIMITS
from monitor.errors import UsageError, sentence
from monitor.farm.bins import RAW_AIR, RAW_WATER, probe_calibration
from monitor.farm.entries import EntryWriter
from monitor.farm.names import known_sensors, matching, only_one
from monitor.logbook.amounts import SHARES, parse_share
from monitor.records import QUANTITIES, Calibration, Quantity, SensorKey
from monitor.terminal.context import (
    ByOption,
    ConfigOption,
    JsonOption,
    SiteContext,
    is_running,
    looking,
    person,
    working,
)
from monitor.terminal.json_records import calibration_json, unit
from monitor.terminal.output import say, say_json
from monitor.words.localizer import Localizer, percent

# Beyond these a sensor that reports its own unit is broken rather than off. Own choice.
MOST_OFF: Mapping[str, float] = {
    Quantity.AIR_TEMPERATURE: 5.0,
    Quantity.SUBSTRATE_TEMPERATURE: 5.0,
    Quantity.SURFACE_TEMPERATURE: 5.0,
    Quantity.AIR_HUMIDITY: 20.0,
}

SensorArgument = Annotated[
    str,
    typer.Argument(
        metavar="SENSOR",
        help="Such as node-01/air_humidity, or bin-1/substrate_temperature. Without it: list all.",
        show_default=False,
    ),
]
RawOption = Annotated[
    list[float] | None,
    typer.Option("--raw", metavar="NUMBER", help="What the sensor said. Once for each point."),
]
TrueOption = Annotated[
    list[float] | None,
    typer.Option(
        "--true", metavar="NUMBER", help="What was true, by a better instrument. Once for each point."
    ),
]
SaltOption = Annotated[
    list[str] | None,
    typer.Option(
        "--salt",
        metavar="SALT",
        help=f"Instead of --true, for humidity in a salt jar: {', '.join(SALTS)}. Once for each point.",
    ),
]
TemperatureOption = Annotated[
    float | None, typer.Option("--temperature", metavar="°C", help="Temperature of the salt jar.")
]
FromOption = Annotated[
    str,
    typer.Option(
        "--from", metavar="TIME", help="From when on it holds: now, yesterday 18:00, 2 days ago, 2026-11-25."
    ),
]
NoteOption = Annotated[
    str, typer.Option("--note", metavar="TEXT", help="What you want to remember about it.")
]
SureOption = Annotated[
    bool, typer.Option("--sure", help="Take it although the sensor is so far off that it seems broken.")
]

_EXAMPLES = (
    "Examples: [bold]rearing-monitor calibrate node-02/substrate_temperature --raw 0.4 --true 0.0[/bold]\n\n"
    "[bold]rearing-monitor calibrate node-01/air_humidity --raw 71.2 --salt NaCl --raw 36.0 --salt MgCl2 "
    "--temperature 25[/bold]"
)


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("calibrate", epilog=_EXAMPLES)(calibrate)
    app.command("calibrate-probe", epilog=_EXAMPLE)(calibrate_probe)


def calibrate(
    sensor: SensorArgument = "",
    raw: RawOption = None,
    true: TrueOption = None,
    salt: SaltOption = None,
    temperature: TemperatureOption = None,
    valid_from: FromOption = "now",
    note: NoteOption = "",
    sure: SureOption = False,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Enter a calibration from one point (shift) or two points (shift and slope), or list those entered.

    Values are in the unit of the sensor: °C, %RH, and a ratio from 0 to 1 for
    substrate moisture. Stored readings stay as they came; a calibration is
    applied when they are read out.
    """
    if not (raw or true or salt):
        with looking(config) as site:
            _show(site, _listed(site, sensor), as_json)
        return
    if not sensor:
        raise UsageError("say which sensor; `rearing-monitor calibrate --help` shows an example")
    with working(config) as site:
        which = only_one(sensor, known_sensors(site.store.readings.sensors(), site.plan), site.plan)
        truth = _salt_truth(which, salt or [], temperature) if salt else list(true or [])
        if true and salt:
            raise UsageError("--true and --salt are both given; allowed: one of them")
        points = _points(which, raw or [], truth)
        at_ms = _valid_from(valid_from, site)
        made = _made(which, points, at_ms, site.now_ms, note, sure)
        site.store.calibrations.add(made)
        if not as_json:
            say(site.words.t("calibrate.entered"), "good")
        _show(site, [made], as_json)
        if is_running(site.store, site.now_ms):
            say(site.words.t("calibrate.in_use"))


def _listed(site: SiteContext, sensor: str) -> list[Calibration]:
    every = site.store.calibrations.every()
    if not sensor:
        return list(every)
    known = known_sensors(
        [*site.store.readings.sensors(), *(calibration.sensor for calibration in every)], site.plan
    )
    wanted = set(matching(sensor, known, site.plan))
    return [calibration for calibration in every if calibration.sensor in wanted]


def _salt_truth(sensor: SensorKey, salts: Sequence[str], temperature: float | None) -> list[float]:
    if sensor.quantity != Quantity.AIR_HUMIDITY:
        raise UsageError(
            "--salt is for air_humidity; {sensor} measures {quantity}",
            sensor=str(sensor),
            quantity=_named(sensor.quantity),
        )
    if temperature is None:
        raise UsageError("--salt needs --temperature: the humidity over a salt depends on it")
    names = {name.lower(): name for name in SALTS}
    return [salt_humidity_percent(names.get(salt.lower(), salt), temperature) for salt in salts]


def _points(sensor: SensorKey, raw: Sequence[float], truth: Sequence[float]) -> list[CalibrationPoint]:
    if len(raw) != len(truth):
        raise UsageError(
            "{raw} times --raw and {true} times --true or --salt; allowed: as many of each",
            raw=len(raw),
            true=len(truth),
        )
    if not 1 <= len(raw) <= 2:
        raise UsageError("{count} points; allowed: one (shift) or two (shift and slope)", count=len(raw))
    points = [CalibrationPoint(*pair) for pair in zip(raw, truth, strict=True)]
    said = [point.raw for point in points] if sensor.quantity not in CAPACITIVE else []
    _refuse_impossible(sensor.quantity, "--raw", said)
    _refuse_impossible(sensor.quantity, "--true", truth)
    return points


def _refuse_impossible(quantity: str, option: str, values: Iterable[float]) -> None:
    limits = DEFAULT_LIMITS.get(quantity)
    for value in values:
        if limits is not None and not limits.fail_low <= value <= limits.fail_high:
            raise UsageError(
                "{option} is {value}; allowed for {quantity}: {low} to {high} {unit}",
                option=option,
                value=f"{value:g}",
                quantity=_named(quantity),
                low=f"{limits.fail_low:g}",
                high=f"{limits.fail_high:g}",
                unit=sentence("(0.65 stands for 65 %)") if unit(quantity) == "/" else _unit(quantity),
            )


def _valid_from(text: str, site: SiteContext) -> int:
    at_ms = site.times().moment(text)
    if at_ms > site.now_ms:
        raise UsageError(
            "--from is {moment}, which is ahead; allowed: now or earlier", moment=site.words.moment(at_ms)
        )
    return at_ms


def _made(
    sensor: SensorKey, points: Sequence[CalibrationPoint], at_ms: int, now_ms: int, note: str, sure: bool
) -> Calibration:
    make = two_point if len(points) == 2 else offset_only
    made = make(sensor, points, at_ms, now_ms, note)
    most, off = MOST_OFF.get(sensor.quantity), max(abs(point.true - point.raw) for point in points)
    if most is not None and off > most and not sure:
        raise UsageError(
            "the sensor is off by {off} {unit}; more than {most} usually means a "
            "broken sensor or a mix-up of numbers. If it is right all the same, add --sure",
            off=f"{off:.1f}",
            unit=_unit(sensor.quantity),
            most=f"{most:g}",
        )
    return made


def _show(site: SiteContext, calibrations: Sequence[Calibration], as_json: bool) -> None:
    if as_json:
        say_json({"calibrations": [calibration_json(calibration, site.zone) for calibration in calibrations]})
        return
    words = site.words
    for calibration in calibrations:
        line = words.t(
            "calibrate.line",
            sensor=str(calibration.sensor),
            slope=f"{calibration.slope:.4g}",
            sign="-" if calibration.offset < 0 else "+",
            offset=f"{abs(calibration.offset):.4g} {_unit(calibration.sensor.quantity)}".rstrip(),
            since=words.moment(calibration.valid_from_ms),
        )
        say(f"{line}  ({calibration.note})" if calibration.note else line)
    if not calibrations:
        say(words.t("calibrate.none"))


def _named(quantity: str) -> object:
    """A quantity of the records, which the catalogue names; another name stays as it is."""
    return Quantity(quantity) if quantity in set(Quantity) else quantity


def _unit(quantity: str) -> str:
    return QUANTITIES[quantity].shown_unit if quantity in QUANTITIES else ""


_EXAMPLE = (
    "Example: [bold]rearing-monitor calibrate probe bin-3 --air 0.02 --water 0.97 --raw 0.41 --true '44 %' "
    "--raw 0.50 --true '53 %' --raw 0.62 --true '64 %' --raw 0.73 --true '74 %'[/bold]"
)


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
        with looking(config) as site:
            which = _probe(sensor, site)
            _show_probe(which, probe_calibration(site.store, which), site.words)
        return
    points = _oven_points(raw or [], true or [])
    with working(config) as site:
        which = _probe(sensor, site)
        writer = EntryWriter(site.store, site.plan, person(by), site.now_ms)
        made = writer.calibrate(which, points, (air, water), moment_of(at, site))
        say(site.words.t("calibrate.entered"), "good")
        _show_probe(which, made, site.words)


def _probe(written: str, site: SiteContext) -> SensorKey:
    known = known_sensors(site.store.readings.sensors(), site.plan)
    probes = tuple(key for key in known if key.quantity == Quantity.SUBSTRATE_MOISTURE)
    if not probes:
        raise UsageError("no board measures substrate_moisture, so there is no probe to calibrate")
    return only_one(written, probes, site.plan)


def _oven_points(raw: list[float], true: list[str]) -> tuple[ProbePoint, ...]:
    if len(raw) != len(true):
        raise UsageError(
            "{raw} times --raw and {true} times --true; allowed: as many of each",
            raw=len(raw),
            true=len(true),
        )
    return tuple(ProbePoint(said, parse_share(share)) for said, share in zip(raw, true, strict=True))


def _show_probe(sensor: SensorKey, made: ProbeCalibration, words: Localizer) -> None:
    ends = words.t("calibrate.ends", air=f"{made.raw_air:g}", water=f"{made.raw_water:g}")
    if not made.is_calibrated:
        say(words.t("calibrate.index", sensor=str(sensor), ends=ends, points=FEWEST_POINTS))
        return
    say(
        words.t(
            "calibrate.probe",
            sensor=str(sensor),
            low=percent(words, made.moisture[0]),
            high=percent(words, made.moisture[-1]),
            ends=ends,
            off=words.number(100 * made.residual, 1),
        )
    )
