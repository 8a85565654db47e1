"""What the farm yields, in words: figures with units and what they lack, what lies ahead, what to promise."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

from monitor.farm.yields import DAY_COLUMNS, DayOfPlace, Doubt, YieldsAhead, YieldsNow, YieldWeek
from monitor.records import MS_PER_DAY
from monitor.settings.plan import Plan
from monitor.words.entries import noted_text
from monitor.words.localizer import (
    Localizer,
    animals,
    day,
    days_long,
    grouped,
    kilograms,
    percent,
    plain,
    window,
)
from monitor.yields.breeding import PrepupaeToKeep
from monitor.yields.cages import CageSum
from monitor.yields.cohorts import CohortSum
from monitor.yields.figures import Figure, Lack
from monitor.yields.fillings import FillingSum
from monitor.yields.forecast import Grams
from monitor.yields.larvae import BinHarvest, Kilograms
from monitor.yields.records import EggUse
from monitor.yields.sums import PeriodSum, Span

Show = Callable[[Localizer, float], str]
SD_80 = 1.2816
"""Half of an 80 % window in standard deviations."""
DAYS_AHEAD, WEEKS_AHEAD = 7, 4
MOST_DOUBTS = 5
ROUND_FROM = 20.0
"""From here on a forecast has no decimals. Own choice."""
NOON_MS = MS_PER_DAY // 2


def egg_grams(words: Localizer, number: float) -> str:
    """Eggs by weight: to a tenth of a gram, from a kilogram on in kilograms."""
    if number >= 1000.0:
        return kilograms(words, number / 1000.0)
    return words.t("amount.grams", count=plain(words, number, 1 if number >= 1.0 else 2))


def _days(words: Localizer, number: float) -> str:
    return days_long(words, number)


def _ratio(words: Localizer, number: float) -> str:
    return plain(words, number, 2 if number < ROUND_FROM else 0)


def _eggs(words: Localizer, number: float) -> str:
    return plain(words, number, 0 if number >= ROUND_FROM / 2.0 else 1)


def _milligrams(words: Localizer, number: float) -> str:
    return f"{plain(words, number, 1)}{words.space}mg"


def _percent_a_day(words: Localizer, number: float) -> str:
    return words.t("yields.percent_a_day", count=plain(words, number, 1))


_SHOWN: Mapping[str, Show] = {
    **dict.fromkeys(("eggs", "grams", "dead_flies_mass"), egg_grams),
    **dict.fromkeys(("larvae", "prepupae", "feed", "feed_dry", "residue", "gain"), kilograms),
    **dict.fromkeys(("hatch", "laid_hatch", "reduction", "efficiency", "survival", "emergence"), percent),
    **dict.fromkeys(("bioconversion_wet", "bioconversion_dry"), percent),
    **dict.fromkeys(("conversion_wet", "conversion_dry", "conversion_dry_fresh"), kilograms),
    **dict.fromkeys(("index", "growth_rate"), _percent_a_day),
    **dict.fromkeys(("days", "days_from_egg"), _days),
    **dict.fromkeys(("flies", "females", "dead_flies", "kept", "eggs_per_female"), animals),
    "eggs_per_female_day": _eggs,
    "per_female_mg": _milligrams,
}
"""How the figures are shown; the names of `yield-...` in the catalogue."""


def lack_words(lacks: Iterable[Lack], words: Localizer) -> str:
    """What a figure lacks, in a few words."""
    return words.listing([words.t(f"lack.{lack}") for lack in lacks])


def figure_words(name: str, figure: Figure, words: Localizer, show: Show | None = None) -> str:
    """A figure with its unit, and how sure it is; else that it is not known, and why."""
    if figure.value is None:
        return words.t("yields.not_known", why=lack_words(figure.lacks, words))
    show = show or _SHOWN[name]
    value = show(words, figure.value)
    if figure.sd is None or figure.sd <= 0.0:
        return value
    low, high = (max(figure.value + sign * SD_80 * figure.sd, 0.0) for sign in (-1.0, 1.0))
    if show is percent and figure.value <= 1.0:
        high = min(high, 1.0)
    return words.t("yields.between", value=value, low=show(words, low), high=show(words, high))


def _between(show: Show, low: float, middle: float, high: float, words: Localizer) -> str:
    """A value with its window."""
    shown = [show(words, each) for each in (middle, low, high)]
    return words.t("yields.between", value=shown[0], low=shown[1], high=shown[2])


@dataclass(frozen=True, slots=True)
class YieldLine:
    """One figure: its name, its value, and that of the span before ("" where there is none)."""

    name: str
    value: str
    before: str = ""


@dataclass(frozen=True, slots=True)
class SpanText:
    """A week or month: its heading and its figures beside those of the one before."""

    heading: str
    lines: tuple[YieldLine, ...]


def span_text(this: PeriodSum, before: PeriodSum | None, plan: Plan, words: Localizer) -> SpanText:
    """The figures of a week or month that say something, beside those of the one before, if it has any."""
    before = before if before is not None and _is_told_of(before) else None
    lines = [_egg_line(this, before, words), *_cage_lines(this, before, plan, words)]
    lines += [_line(name, this, before, words) for name in ("eggs_per_female_day", "hatch")]
    lines.append(_larva_line(this, before, words))
    lines += [_line(name, this, before, words) for name in ("prepupae", "feed", "residue")]
    lines += [
        _line(name, this.conversions, None if before is None else before.conversions, words)
        for name in ("conversion_wet", "conversion_dry", "bioconversion_dry", "reduction")
    ]
    lines += [_line("days_from_egg", this, before, words), _kept_line(this, before, words)]
    lines += [_line(name, this, before, words) for name in ("flies", "dead_flies", "dead_flies_mass")]
    told = (*filter(None, lines), *_money_lines(this, before, words))
    told = told if before is not None else tuple(replace(line, before="") for line in told)
    return SpanText(span_heading(this, words), told)


def _is_told_of(span: PeriodSum) -> bool:
    """Whether anything was written down in a span."""
    figures = (span.eggs, span.hatch, span.larvae, span.prepupae, span.feed, span.residue, span.flies)
    return any(each.value is not None for each in (*figures, span.dead_flies, span.dead_flies_mass))


def span_heading(span: PeriodSum, words: Localizer) -> str:
    """Such as "This week, from Mon 14 Sep" or "September 2026 so far"."""
    if span.end_ms > words.now_ms:
        return words.t(f"yields.this_{span.span}", day=day(words, span.start_ms + NOON_MS))
    last = span.end_ms - NOON_MS
    return words.t(f"yields.past_{span.span}", window=window(words, span.start_ms + NOON_MS, last))


def turned_lines(week: YieldWeek, words: Localizer) -> list[str]:
    """What the report of a Monday says: the figures that matter most beside those before, and what comes."""
    last, before, plan = week.last, week.before, week.plan
    ratios = None if before is None else before.conversions
    lines = (
        _egg_line(last, before, words),
        *_cage_lines(last, before, plan, words),
        _line("hatch", last, before, words),
        _larva_line(last, before, words),
        _line("feed", last, before, words),
        _line("conversion_wet", last.conversions, ratios, words),
        _kept_line(last, before, words),
        *_money_lines(last, before, words),
    )
    said = [beside(line, last.span, words) for line in lines if line is not None]
    return [*said, *_coming_lines(week.ahead, plan, words)] if week.ahead is not None else said


def beside(line: YieldLine, span: Span, words: Localizer) -> str:
    """A figure in one line, with that of the week or month before."""
    then = words.headed(words.t(f"yields.before_{span}"), line.before)
    return words.headed(line.name, words.clauses([line.value, then] if line.before else [line.value]))


def _coming_lines(ahead: YieldsAhead, plan: Plan, words: Localizer) -> Iterator[str]:
    if ahead.keep is not None:
        yield keep_sentence(ahead.keep, words)
    for cage in ahead.eggs.known:
        yield words.headed(plan.title(cage), cage_sentence(ahead, cage, words))
    for harvest in ahead.larvae.bins:
        yield words.headed(plan.title(harvest.place), bin_sentence(harvest, words))


def _is_silent(figure: Figure) -> bool:
    """Whether a figure is of things that nobody wrote about, so that nobody misses it."""
    return figure.value is None and not figure.entries and set(figure.lacks) <= _SILENT


_SILENT = {Lack.NOTHING_WRITTEN, Lack.LARVAE_OUT, Lack.PREPUPAE, Lack.FLIES, Lack.HATCH, Lack.FEED}


def _line(name: str, this: Any, before: Any, words: Localizer) -> YieldLine | None:
    now: Figure = getattr(this, name)
    then: Figure | None = None if before is None else getattr(before, name)
    if now.value is None and (then is None or then.value is None):
        return None
    return YieldLine(words.t(f"yield.{name}"), _short(name, now, words), _short(name, then, words))


def _short(name: str, figure: Figure | None, words: Localizer) -> str:
    """A figure in a table: nothing where nothing was written."""
    if figure is None or _is_silent(figure):
        return words.t("yields.none")
    return figure_words(name, figure, words)


def _used(text: str, uses: Mapping[Any, float], show: Show, words: Localizer) -> str:
    """An amount with what became of it."""
    told = [
        words.headed(words.t(f"use.{use}"), show(words, amount))
        for use, amount in uses.items()
        if use is not None
    ]
    return words.t("yields.used", amount=text, uses=words.listing(told)) if told else text


def _egg_line(this: PeriodSum, before: PeriodSum | None, words: Localizer) -> YieldLine | None:
    line = _line("eggs", this, before, words)
    return line and YieldLine(line.name, _used(line.value, this.egg_uses, egg_grams, words), line.before)


def _larva_line(this: PeriodSum, before: PeriodSum | None, words: Localizer) -> YieldLine | None:
    line = _line("larvae", this, before, words)
    return line and YieldLine(line.name, _used(line.value, this.larva_uses, kilograms, words), line.before)


def _cage_lines(
    this: PeriodSum, before: PeriodSum | None, plan: Plan, words: Localizer
) -> Iterator[YieldLine]:
    then = {} if before is None else before.eggs_by_cage
    every = sorted({*this.eggs_by_cage, *then})
    if len(every) < 2:
        return
    for cage in every:
        now, last = this.eggs_by_cage.get(cage), then.get(cage)
        name = words.t("yields.of_cage", cage=plan.title(cage))
        yield YieldLine(name, _short("eggs", now, words), _short("eggs", last, words))


def _kept_line(this: PeriodSum, before: PeriodSum | None, words: Localizer) -> YieldLine | None:
    if this.kept.count.value is None and (this.kept.needed is None or not this.kept.needed):
        return None
    value = _short("kept", this.kept.count, words)
    if this.kept.needed:
        value = words.t("yields.of_needed", kept=value, needed=animals(words, this.kept.needed))
    then = None if before is None else before.kept.count
    return YieldLine(words.t("yield.kept"), value, _short("kept", then, words))


def _money_lines(this: PeriodSum, before: PeriodSum | None, words: Localizer) -> Iterator[YieldLine]:
    """Money, only where prices are given."""
    now, then = this.income, None if before is None else before.income
    if now is None:
        return
    for name in ("eggs", "larvae", "kept_worth", "feed"):
        figure = getattr(now, name)
        last = None if then is None else getattr(then, name)
        if figure.value is not None or (last is not None and last.value is not None):
            values = (_money(each, now.currency, words) for each in (figure, last))
            yield YieldLine(words.t(f"yield_money.{name}"), *values)


def _money(figure: Figure | None, currency: str, words: Localizer) -> str:
    if figure is None or figure.value is None:
        return words.t("yields.none")
    return f"{words.number(figure.value, 2)}{words.space}{currency}"


# One cage, filling, cohort.

_CAGE = (
    *("grams", "flies", "per_female_mg", "eggs_per_female", "eggs_per_female_day", "hatch"),
    *("dead_flies", "dead_flies_mass"),
)
_FILLING = (
    *("larvae", "feed", "residue", "days", "conversion_wet", "conversion_dry", "conversion_dry_fresh"),
    *(
        "bioconversion_wet",
        "bioconversion_dry",
        "reduction",
        "index",
        "efficiency",
        "survival",
        "growth_rate",
    ),
)
_COHORT = (
    "hatch",
    "larvae",
    "days_from_egg",
    "kept",
    "flies",
    "emergence",
    "eggs",
    "eggs_per_female",
    "laid_hatch",
)
_BRIEF = {
    "grams",
    "per_female_mg",
    "hatch",
    "larvae",
    "feed",
    "conversion_wet",
    "reduction",
    "days",
    "days_from_egg",
    "eggs",
    "flies",
}


def sum_lines(each: CageSum | FillingSum | CohortSum, words: Localizer) -> list[YieldLine]:
    """Every figure of a cage, a filling or a cohort; what is not known with its reason.

    Of a filling that still stands most is not known yet, which is said once.
    """
    names = _CAGE if isinstance(each, CageSum) else _FILLING if isinstance(each, FillingSum) else _COHORT
    standing = isinstance(each, FillingSum) and not each.is_over
    lines = [
        YieldLine(words.t(f"yield.{name}"), figure_words(name, figure, words))
        for name in names
        if not _is_silent(figure := getattr(each, name)) and (figure.value is not None or not standing)
    ]
    if standing:
        why = words.t("yields.not_known", why=lack_words((Lack.STILL_FILLED,), words))
        lines.append(YieldLine(words.t("yields.all_else"), why))
    return lines


def sum_brief(each: CageSum | FillingSum | CohortSum, words: Localizer) -> str:
    """What is known of it, in one line."""
    names = _CAGE if isinstance(each, CageSum) else _FILLING if isinstance(each, FillingSum) else _COHORT
    known = [
        words.headed(words.t(f"yield.{name}"), figure_words(name, figure, words))
        for name in names
        if name in _BRIEF and (figure := getattr(each, name)).value is not None
    ]
    return words.clauses(known) if known else words.t("yields.nothing_of_it")


def is_told(each: CageSum | FillingSum | CohortSum) -> bool:
    """Whether anything of it is known by now."""
    names = _CAGE if isinstance(each, CageSum) else _FILLING if isinstance(each, FillingSum) else _COHORT
    return any(getattr(each, name).value is not None for name in names)


def sum_title(each: CageSum | FillingSum | CohortSum, plan: Plan, words: Localizer) -> str:
    """What it is about: a cage, a filling with its day, a cohort."""
    match each:
        case CageSum():
            return plan.title(each.place)
        case FillingSum():
            return words.t("yields.filling", bin=plan.title(each.place), day=day(words, each.filling_ms))
    return each.cohort


# What lies ahead.


class Weighed(Protocol):
    """A weight with its window."""

    @property
    def low(self) -> float:
        """The lower end of the window."""

    @property
    def median(self) -> float:
        """The middle."""

    @property
    def high(self) -> float:
        """The upper end of the window."""


def grams_words(grams: Weighed, words: Localizer) -> str:
    """Grams of eggs with their window, the unit once."""
    return _weighed("amount.grams", grams, words)


def kilograms_words(kg: Weighed, words: Localizer) -> str:
    """Kilograms of larvae with their window, the unit once."""
    return _weighed("amount.kilograms", kg, words)


def _weighed(unit: str, band: Weighed, words: Localizer) -> str:
    low, middle, high = (
        plain(words, each, 0 if each >= ROUND_FROM else 1 if each >= 1.0 else 2)
        for each in (band.low, band.median, band.high)
    )
    value = words.t(unit, count=middle)
    return value if low == high else words.t("yields.between", value=value, low=low, high=high)


def cage_days(ahead: YieldsAhead, cage: str, words: Localizer) -> list[YieldLine]:
    """The coming days of a cage."""
    days = ahead.eggs.days(cage)[:DAYS_AHEAD]
    return [YieldLine(day(words, each.from_ms + NOON_MS), grams_words(each, words)) for each in days]


def week_lines(ahead: YieldsAhead, cage: str | None, words: Localizer) -> list[YieldLine]:
    """The coming weeks of a cage, or of all."""
    return [_week(each, grams_words(each, words), words) for each in ahead.eggs.weeks(cage)[:WEEKS_AHEAD]]


def larva_weeks(ahead: YieldsAhead, words: Localizer) -> list[YieldLine]:
    """Kilograms of larvae of the coming weeks."""
    return [
        _week(each, kilograms_words(each, words), words)
        for each in ahead.larvae.weeks[:WEEKS_AHEAD]
        if each.high
    ]


def _week(each: Grams | Kilograms, text: str, words: Localizer) -> YieldLine:
    return YieldLine(window(words, each.from_ms + NOON_MS, each.to_ms - NOON_MS), text)


def cage_sentence(ahead: YieldsAhead, cage: str, words: Localizer) -> str:
    """What a cage gives within a week."""
    return words.t("yields.cage_week", grams=grams_words(ahead.eggs.weeks(cage)[0], words))


def bin_sentence(harvest: BinHarvest, words: Localizer) -> str:
    """On which day a bin is best taken, and how much it then gives."""
    amount = kilograms_words(harvest.kg, words)
    if harvest.is_late:
        return words.t("yields.bin_late", amount=amount)
    span = window(words, harvest.low_ms, harvest.high_ms)
    return words.t("yields.bin_best", day=day(words, harvest.best_ms), window=span, amount=amount)


def promise_sentence(ahead: YieldsAhead, at_ms: int, words: Localizer) -> str:
    """What can be promised to a buyer for a day."""
    grams = ahead.promised(at_ms) or 0.0
    if grams < 1.0:
        return words.t("yields.promise_none", day=day(words, at_ms))
    return words.t("yields.promise", day=day(words, at_ms), grams=egg_grams(words, float(int(grams))))


def keep_sentence(keep: PrepupaeToKeep, words: Localizer) -> str:
    """How many prepupae to keep for a number of grams a week, and by when."""
    known = {
        "grams": egg_grams(words, keep.grams_a_week),
        "safe": animals(words, keep.safe),
        "even": animals(words, keep.even),
    }
    said = words.t("yields.keep", **known)
    week = day(words, keep.week_ms + NOON_MS)
    if keep.safe_ms is None or keep.even_ms is None:
        return said
    if keep.safe_ms < words.now_ms:
        return f"{said} {words.t('yields.keep_late', week=week)}"
    return f"{said} {words.t('yields.keep_by', week=week, day=day(words, keep.safe_ms))}"


def rests_sentences(ahead: YieldsAhead, words: Localizer) -> Iterator[str]:
    """What the forecasts rest on."""
    level, learned = ahead.eggs.level, ahead.larvae.conversion
    if level.weeks:
        low, middle, high = (1000.0 * each for each in (level.low, level.median, level.high))
        yield words.n("yields.level", level.weeks, eggs=_between(_milligrams, low, middle, high, words))
    elif ahead.eggs.known:
        yield words.t("yields.level_papers")
    if learned.fillings and ahead.larvae.bins:
        kg = _between(_ratio, learned.low, learned.median, learned.high, words)
        yield words.n("yields.learned_bins", learned.fillings, kg=kg)
    elif ahead.larvae.bins:
        yield words.t("yields.bins_papers")


def doubt_sentence(doubt: Doubt, plan: Plan, words: Localizer) -> str:
    """An entry from which nothing is learned, and what it looks like."""
    amount = egg_grams(words, doubt.amount) if doubt.in_grams else kilograms(words, doubt.amount)
    known = {"number": doubt.entry, "amount": amount, "place": plan.title(doubt.place)}
    known["day"] = day(words, doubt.at_ms)
    if doubt.factor is None or doubt.factor == 1.0:
        return words.t("yields.doubt_odd", **known)
    key = "yields.doubt_large" if doubt.factor > 1.0 else "yields.doubt_small"
    return words.t(key, **known, times=grouped(words, max(doubt.factor, 1.0 / doubt.factor)))


def doubt_lines(ahead: YieldsAhead, plan: Plan, words: Localizer) -> list[tuple[str, int | None]]:
    """The newest entries that were not believed, each with its number, and how many more there are."""
    newest = reversed(ahead.doubts[-MOST_DOUBTS:])
    said: list[tuple[str, int | None]] = [(doubt_sentence(each, plan, words), each.entry) for each in newest]
    more = len(ahead.doubts) - len(said)
    return [*said, (words.n("yields.more_doubts", more), None)] if more else said


def missing_sentences(now: YieldsNow, ahead: YieldsAhead | None, plan: Plan, words: Localizer) -> list[str]:
    """What to write down to know more, the most useful first."""
    said: list[str] = []
    if ahead is not None:
        said += [words.t("yields.count_flies", cage=plan.title(cage)) for cage in ahead.eggs.by_habit]
        if ahead.eggs.unknown:
            cages = words.listing([plan.title(cage) for cage in ahead.eggs.unknown])
            said.append(words.t("yields.cages_unknown", cages=cages))
    lacks = dict.fromkeys(lack for span in now.months if span is not None for lack in _lacks_of(span))
    said += [words.t(f"lack_do.{lack}") for lack in lacks if words.has(f"lack_do.{lack}")]
    return said


def _lacks_of(span: PeriodSum) -> Iterator[Lack]:
    """What the figures of a span lack of which there is something written already."""
    figures: Sequence[Figure] = (span.eggs_per_female_day, span.days_from_egg)
    if span.conversions.fillings:
        ratios = span.conversions
        figures = (*figures, ratios.conversion_wet, ratios.bioconversion_dry, ratios.reduction)
    for figure in figures:
        yield from figure.lacks
    if span.egg_uses.get(EggUse.HATCH) and span.hatch.value is None:
        yield Lack.HATCH
    if None in span.larva_uses or None in span.egg_uses:
        yield Lack.USE


# One row for each day and place.


def days_csv(days: Iterable[DayOfPlace], plan: Plan, words: Localizer) -> str:
    """The days of all places for a spreadsheet; its columns are named alike in every language."""
    text = io.StringIO()
    writer = csv.DictWriter(text, DAY_COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(_day_row(each, plan, words) for each in days)
    return text.getvalue()


def _day_row(each: DayOfPlace, plan: Plan, words: Localizer) -> Mapping[str, str]:
    entries = "; ".join(noted_text(entry, words, plan.title) for entry in each.entries)
    # A spreadsheet takes what begins with one of these for a formula.
    safe = f"'{entries}" if entries[:1] in ("=", "+", "-", "@") else entries
    amounts = {name: f"{value:.6g}" for name, value in each.values.items()}
    about = {"date": each.day.isoformat(), "place": each.place, "cohort": " ".join(each.cohorts)}
    return {**about, "logbook": safe, **amounts}
