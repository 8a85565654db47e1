"""Sentences about flies to come in the cages, what the farm has taught, and what the climate did. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.development.posterior import LearnedConstant
from monitor.development.published import ComparedTime, PublishedTime
from monitor.development.scoring import ForecastScore
from monitor.development.supply import LatestStart
from monitor.farm.supply import EVENT_LEAD_DAYS, CageView, LearnView
from monitor.farm.yields import COST_DAYS, ClimateSaid
from monitor.records import MS_PER_DAY, Quantity, Stage
from monitor.words.localizer import Localizer, animals, capitalised, day, days_long
from monitor.yields.effects import Effect, SupportedLimit, Verdict
from monitor.yields.exposure import Condition, Made
from monitor.yields.money import Lost

NOON_MS = MS_PER_DAY // 2
ROUND_FROM = 20.0
"""From here on what was lost has no decimals. Own choice."""


def cage_title(cage: CageView, words: Localizer) -> str:
    """The name of a cage, or that none was named."""
    return cage.title if cage.supply.cage else words.t("supply.no_cage")


def verdict_sentence(cage: CageView, words: Localizer) -> str:
    """Whether enough flies live in a cage, and when most do."""
    supply = cage.supply
    if not cage.cohorts:
        return words.t("supply.none")
    best = max(supply.days, key=lambda each: each.living)
    best_day = day(words, best.day_start_ms + NOON_MS)
    most = words.t("supply.most", day=best_day, flies=animals(words, best.living))
    if not supply.least_flies:
        return most
    least = animals(words, supply.least_flies)
    if supply.gap is None:
        return f"{words.t('supply.enough', least=least)} {most}"
    days = words.n("length.days", len(supply.short_days))
    gap = day(words, supply.gap.day_start_ms + NOON_MS)
    return f"{words.t('supply.short', days=days, day=gap, least=least)} {most}"


def remedy_sentences(cage: CageView, words: Localizer) -> Iterator[str]:
    """What still closes the first gap of a cage."""
    if cage.supply.gap is None:
        return
    for start in cage.starts:
        yield _start_sentence(start, words)
    for kept in cage.hold_backs:
        yield words.t("supply.keep", cohort=kept.cohort, day=day(words, kept.latest_ms))
    if not cage.hold_backs:
        yield words.t("supply.no_keep")


def _start_sentence(start: LatestStart, words: Localizer) -> str:
    stage = words.t(f"stage.{start.stage}")
    known = start.animals == start.animals
    what = words.t("supply.some", count=animals(words, start.animals), stage=stage) if known else stage
    if start.even_ms < words.now_ms:
        return words.t("supply.too_late", what=what)
    even = day(words, start.even_ms)
    if start.safe_ms < words.now_ms:
        return words.t("supply.now", what=what, even=even)
    return words.t("supply.by", what=what, safe=day(words, start.safe_ms), even=even)


@dataclass(frozen=True, slots=True)
class PublishedLine:
    """One published time: its columns, then where it is from and why ours lies elsewhere ("" where not)."""

    what: str
    temperature: str
    said: str
    ours: str
    verdict: str
    source: str
    reason: str


def published_lines(times: Sequence[ComparedTime], words: Localizer) -> list[PublishedLine]:
    """Each published time beside the numbers in use, stage by stage."""
    return [_published_line(each, words) for each in times]


def _published_line(time: ComparedTime, words: Localizer) -> PublishedLine:
    published = time.published
    stages = _stages_words(published, words)
    degrees = words.limit(Quantity.AIR_TEMPERATURE, published.temperature_c)
    middle, low, high = (words.number(each, 1) for each in (time.median_days, time.low_days, time.high_days))
    verdict = "inside" if time.is_inside else "held" if time.is_held else "outside"
    parts = [words.t(f"mark.{published.mark.replace(' ', '_')}"), words.text(published.condition)]
    return PublishedLine(
        what=stages if published.feed is None else words.t("published.on", what=stages, feed=published.feed),
        temperature=degrees if published.is_stated else words.t("published.assumed", degrees=degrees),
        said=_range_words(published, words),
        ours=words.t("published.days", span=words.t("learned.span", middle=middle, low=low, high=high)),
        verdict=words.t(f"published.{verdict}"),
        source=words.clauses(part for part in (published.source, *parts) if part),
        reason=words.text(published.reason),
    )


def _stages_words(published: PublishedTime, words: Localizer) -> str:
    """One stage, or from where to where several last; of flies what they are timed to."""
    stages = published.stages
    names = [words.t("published.to_eggs" if each is Stage.ADULT else f"stage.{each}") for each in stages]
    if len(stages) == 1:
        return names[0]
    if stages[-1] is not Stage.PUPA:
        return words.t("value.span", low=names[0], high=names[-1])
    begin = words.t(f"published.from_{stages[0]}")
    if published.from_days:
        begin = words.t("published.aged", begin=begin, days=_days_number(published.from_days, words))
    return words.t("published.to_fly", begin=begin)


def _range_words(published: PublishedTime, words: Localizer) -> str:
    """The published range in days, as numbers, so that it reads the same in each language."""
    low, high = published.low_days, published.high_days
    if high is None:
        return words.t("published.least", low=_days_number(low, words))
    if high - low < 0.2:
        return words.t("published.days", span=_days_number((low + high) / 2.0, words))
    span = words.t("value.span", low=_days_number(low, words), high=_days_number(high, words))
    return words.t("published.days", span=span)


def _days_number(days: float, words: Localizer) -> str:
    decimals = next(d for d in (0, 1, 2) if d == 2 or abs(days - round(days, d)) < 1e-9)
    return words.number(days, decimals)


@dataclass(frozen=True, slots=True)
class LearnedRow:
    """A stage with its degree-days from papers and the farm's own."""

    stage: str
    papers: str
    own: str
    rests: str


@dataclass(frozen=True, slots=True)
class Learned:
    """What forecasts rest on: a table for each feed, the spread, how good past forecasts were."""

    head: str
    feeds: tuple[tuple[str, tuple[LearnedRow, ...]], ...]
    spread: str
    scores: tuple[str, ...]
    by_event: tuple[str, ...]


def learned(view: LearnView, words: Localizer) -> Learned:
    """The farm's own numbers beside those from papers, and how good past forecasts were."""
    feeds = tuple(
        (
            words.t("learned.constants") if feed.feed is None else words.t("learned.on_feed", feed=feed.feed),
            tuple(_constant(constant, words) for constant in feed.constants),
        )
        for feed in view.feeds
    )
    own, prior = (words.number(100.0 * share, 1) for share in (view.spread_own, view.spread_prior))
    scores = [
        words.t("learned.score", about=words.n("length.days", lead), score=_score(score, words))
        for lead, score in view.scores.items()
    ]
    by_event = (
        words.headed(capitalised(words.t(f"seen.{event}")), _score(score, words))
        for event, score in view.by_event.items()
    )
    return Learned(
        head=words.n("learned.taught", len(view.taught)) if view.taught else words.t("learned.nothing"),
        feeds=feeds,
        spread=words.n("learned.spread", view.spread_cohorts, own=own, prior=prior),
        scores=tuple(scores) or (words.t("learned.no_score"),),
        by_event=tuple(by_event),
    )


def by_event_heading(words: Localizer) -> str:
    """How far ahead the forecasts were made that are scored by event."""
    return words.t("learned.by_event", lead=words.n("length.days", EVENT_LEAD_DAYS))


def _constant(constant: LearnedConstant, words: Localizer) -> LearnedRow:
    papers, own = (
        words.t("learned.span", middle=words.number(middle), low=words.number(low), high=words.number(high))
        for middle, low, high in (
            (constant.prior, constant.prior_low, constant.prior_high),
            (constant.own, constant.own_low, constant.own_high),
        )
    )
    count = constant.cohorts
    rests = words.n("learned.cohorts", count) if count else words.t("learned.papers_only")
    return LearnedRow(words.t(f"stage.{constant.stage}"), papers, own, rests)


def _score(score: ForecastScore, words: Localizer) -> str:
    return words.n(
        "learned.later" if score.bias_days > 0 else "learned.earlier",
        score.forecasts,
        off=days_long(words, score.mean_absolute_error_days),
        bias=days_long(words, score.bias_days),
        held=words.number(100.0 * score.held_share),
    )


def climate_sentences(said: ClimateSaid, words: Localizer, currency: str = "") -> Iterator[str]:
    """What went with the climate, what it cost, which limits the farm's own eggs would support.

    Nothing where too little was ever compared. `currency` is that of the prices; without it nothing speaks of
    money.
    """
    compared = sum(each.verdict is not Verdict.TOO_FEW for each in said.effects)
    if not compared:
        return
    costs = dict(said.costs)
    for effect in said.effects:
        if effect.is_said:
            yield effect_sentence(effect, words)
            if effect in costs and costs[effect].takings:
                yield cost_sentence(effect, costs[effect], words, currency)
    for limit in said.limits:
        yield limit_sentence(limit, words)
    if not any(effect.is_said for effect in said.effects):
        yield words.t("climate.nothing")
    yield f"{words.t('climate.rests', compared=compared)} {words.t('climate.not_caused')}"


def effect_sentence(effect: Effect, words: Localizer) -> str:
    """What went with such hours, with its interval and on how many cases it rests."""
    what = effect.comparison
    dry = what.condition in (Condition.DRY_DAYS, Condition.DRY_HOURS)
    warm = Quantity.SUBSTRATE_TEMPERATURE if what.made is Made.HARVEST else Quantity.AIR_TEMPERATURE
    limit = "" if effect.limit is None else words.limit(Quantity.AIR_HUMIDITY if dry else warm, effect.limit)
    return words.t(
        f"climate.{what.made}_{what.condition}",
        limit=limit,
        hours=words.number(what.hours),
        such=effect.exposed,
        others=effect.others,
        **_less(effect, words),
    )


def _less(found: Effect | SupportedLimit, words: Localizer) -> dict[str, str]:
    """By how many percent less, middle and window."""
    share, low, high = (
        words.number(100.0 * (1.0 - factor)) for factor in (found.middle, found.high, found.low)
    )
    return {"share": share, "low": low, "high": high}


def cost_sentence(effect: Effect, lost: Lost, words: Localizer, currency: str) -> str:
    """What was missing of late after such hours, as a range; in money too where it has a price."""
    decimals = 0 if lost.high >= ROUND_FROM or effect.comparison.made is Made.EMERGENCE else 1
    low, middle, high = (words.number(each, decimals) for each in (lost.low, lost.middle, lost.high))
    key = f"climate.cost_{effect.comparison.made}"
    told = words.t(key, days=COST_DAYS, low=low, middle=middle, high=high)
    if lost.money is None or not currency:
        return told
    low, _, high = (words.number(each, 0 if lost.money[2] >= ROUND_FROM else 2) for each in lost.money)
    return f"{told} {words.t('climate.cost_money', low=low, high=high, currency=currency)}"


def limit_sentence(limit: SupportedLimit, words: Localizer) -> str:
    """Another limit that the farm's own eggs would support; it is offered, never set."""
    key = f"climate.{'limit' if limit.warns_more else 'milder'}_{limit.condition}"
    now, offered = (words.limit(Quantity.AIR_TEMPERATURE, each) for each in (limit.now_c, limit.offered_c))
    return words.t(
        key, now=now, offered=offered, such=limit.exposed, others=limit.others, **_less(limit, words)
    )
