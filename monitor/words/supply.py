"""Supply of flies and what was learned, as lines of text. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from monitor.development.posterior import LearnedConstant
from monitor.development.scoring import ForecastScore
from monitor.development.supply import LatestStart
from monitor.farm.supply import EVENT_LEAD_DAYS, CageView, LearnView, SupplyView
from monitor.records import MS_PER_DAY
from monitor.words.cohorts import EVENT_WORDS, STAGE_WORDS, day, number
from monitor.words.phrases import entry, plural

BAR_WIDTH = 24
NOON_MS = MS_PER_DAY // 2


def supply_lines(view: SupplyView, zone: tzinfo, width: int) -> Iterator[str]:
    """The whole answer of `supply`."""
    for cage in view.cages:
        yield from _cage_lines(cage, view.now_ms, zone, width)
        yield ""
    if view.undecided:
        names = ", ".join(view.undecided)
        yield from entry(
            "Not counted, since nobody has said what they are for: ",
            f"{names}. Say it with `cohort move NAME PLACE --for breeding --cage CAGE` or `cohort correct`",
            width,
        )
    yield from entry("", "Eggs are rough: females that live to lay, times the eggs that papers give.", width)


def _cage_lines(cage: CageView, now_ms: int, zone: tzinfo, width: int) -> Iterator[str]:
    supply = cage.supply
    least = f", should hold {number(supply.least_flies)}" if supply.least_flies else ""
    yield from entry(f"{cage.title}{least}: ", _verdict(cage, zone), width)
    if cage.cohorts:
        yield from entry("  from: ", ", ".join(cage.cohorts), width, 4)
    if supply.uncounted:
        names = ", ".join(supply.uncounted)
        yield from entry("  without a number, so left out: ", f"{names} (`cohort count`)", width, 4)
    yield from _remedies(cage, now_ms, zone, width)
    if cage.cohorts:
        yield from _days(cage, zone)


def _verdict(cage: CageView, zone: tzinfo) -> str:
    supply = cage.supply
    if not cage.cohorts:
        return "no cohort is meant for it"
    best = max(supply.days, key=lambda each: each.living)
    most = f"most on {day(best.day_start_ms + NOON_MS, zone)}, about {number(best.living)}"
    if not supply.least_flies:
        return f"{most}. Set least_flies in the settings, or give --least, to be warned of gaps"
    if supply.gap is None:
        return f"enough on all {plural(len(supply.days), 'day')}; {most}"
    short = plural(len(supply.short_days), "day")
    return f"too few on {short}, from {day(supply.gap.day_start_ms + NOON_MS, zone)} on; {most}"


def _remedies(cage: CageView, now_ms: int, zone: tzinfo, width: int) -> Iterator[str]:
    if cage.supply.gap is None:
        return
    for start in cage.starts:
        yield from entry("  ", _start_words(start, now_ms, zone), width, 4)
    for kept in cage.hold_backs:
        text = (
            f"keep {kept.cohort} for breeding; decide by {day(kept.latest_ms, zone)}, when it begins to leave"
        )
        yield from entry("  or ", text, width, 4)
    if not cage.hold_backs:
        yield from entry("  ", "no cohort meant for feed would come at the right time", width, 4)


def _start_words(start: LatestStart, now_ms: int, zone: tzinfo) -> str:
    known = start.animals == start.animals
    what = f"{number(start.animals)} {STAGE_WORDS[start.stage]}" if known else STAGE_WORDS[start.stage]
    if start.even_ms < now_ms:
        return f"{what}: too late to begin with them"
    even = day(start.even_ms, zone)
    if start.safe_ms < now_ms:
        return f"{what}: set aside now; it may come late even so (even odds until {even})"
    return f"{what}: set aside by {day(start.safe_ms, zone)} to be safe, {even} at even odds"


def _days(cage: CageView, zone: tzinfo) -> Iterator[str]:
    top = max(max(each.high for each in cage.supply.days), cage.supply.least_flies, 1.0)
    for each in cage.supply.days:
        filled = round(BAR_WIDTH * each.living / top)
        short = " too few" if each.living < cage.supply.least_flies else ""
        band = f"{number(each.living):>7} ({number(each.low)} to {number(each.high)})"
        bar = "█" * filled + "·" * (BAR_WIDTH - filled)
        eggs = f"  eggs about {number(each.eggs)}" if each.eggs >= 1.0 else ""
        yield f"  {day(each.day_start_ms + NOON_MS, zone):<10} {bar} {band}{short}{eggs}"


def learn_lines(view: LearnView, width: int) -> Iterator[str]:
    """The whole answer of `learn`."""
    taught = plural(len(view.taught), "cohort")
    yield from entry("", f"Learned from {taught} of this farm." if view.taught else _NOTHING, width)
    for feed in view.feeds:
        yield ""
        yield f"Degree-days of each stage{'' if feed.feed is None else f', on {feed.feed}'}:"
        yield f"  {'stage':<9} {'from papers':>20} {'your own':>20}   rests on"
        yield from (_constant(each) for each in feed.constants)
    yield ""
    yield from entry("", _spread(view), width)
    yield ""
    yield from _scores(view, width)


_NOTHING = (
    "Nothing learned yet: forecasts rest on numbers from papers. Each event that you enter with "
    "`cohort saw` makes them your own; after about five cohorts yours weigh more."
)


def _constant(each: LearnedConstant) -> str:
    prior = f"{each.prior:.0f} ({each.prior_low:.0f}-{each.prior_high:.0f})"
    own = f"{each.own:.0f} ({each.own_low:.0f}-{each.own_high:.0f})"
    rests = plural(each.cohorts, "cohort") if each.cohorts else "papers only"
    return f"  {each.stage.value:<9} {prior:>20} {own:>20}   {rests}"


def _spread(view: LearnView) -> str:
    own = f"{view.spread_own:.1%} (assumed at first: {view.spread_prior:.1%})"
    rests = plural(view.spread_cohorts, "cohort") if view.spread_cohorts else "no cohort"
    return f"Animals of one cohort differ in their time by {own}, from {rests} counted day by day."


def _scores(view: LearnView, width: int) -> Iterator[str]:
    if not view.scores:
        text = "no forecast has come due yet; each day's forecasts are kept and held against what you enter."
        yield from entry("Past forecasts: ", text, width)
        return
    yield "Past forecasts, held against what was seen:"
    for lead, found in view.scores.items():
        yield f"  {f'{lead} days ahead':<28}{_score(found)}"
    if view.by_event:
        yield f"  by event, {EVENT_LEAD_DAYS} days ahead:"
        for event, found in view.by_event.items():
            yield f"    {EVENT_WORDS[event]:<26}{_score(found)}"
    yield from entry("  ", "Eight in ten windows should hold.", width)


def _score(found: ForecastScore) -> str:
    way = "later" if found.bias_days > 0 else "earlier"
    bias = f"came {abs(found.bias_days):.1f} d {way} than said"
    return (
        f"{found.forecasts:>3} events, off by {found.mean_absolute_error_days:.1f} d, {bias}, "
        f"windows held {found.held_share:.0%}"
    )
