"""Flies in the cages over the coming weeks, and what the farm has taught, in the words of the page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.development.posterior import LearnedConstant
from monitor.development.scoring import ForecastScore
from monitor.development.supply import LatestStart
from monitor.farm.supply import CageView, LearnView
from monitor.page.curves import Curve, supply_curve
from monitor.page.serving import RequestContext
from monitor.records import MS_PER_DAY
from monitor.words.localizer import Localizer, animals, day, days_long

NOON_MS = MS_PER_DAY // 2


@dataclass(frozen=True, slots=True)
class CageCard:
    """One cage: the verdict, what can still be done, and its curve."""

    title: str
    shape: str
    verdict: str
    remedies: tuple[str, ...]
    cohorts: tuple[str, ...]
    uncounted: tuple[str, ...]
    curve: Curve | None


def cage_card(request: RequestContext, cage: CageView) -> CageCard:
    """The card of a cage."""
    words, supply = request.words, cage.supply
    short = bool(supply.least_flies) and supply.gap is not None
    return CageCard(
        title=cage.title if supply.cage else words.t("supply.no_cage"),
        shape="low" if short else "fine",
        verdict=_verdict(cage, words),
        remedies=tuple(_remedies(cage, words)),
        cohorts=cage.cohorts,
        uncounted=supply.uncounted,
        curve=supply_curve(request, supply) if cage.cohorts else None,
    )


def _verdict(cage: CageView, words: Localizer) -> str:
    supply = cage.supply
    if not cage.cohorts:
        return words.t("supply.none")
    best = max(supply.days, key=lambda each: each.living)
    most = words.t(
        "supply.most", day=day(words, best.day_start_ms + NOON_MS), flies=animals(words, best.living)
    )
    if not supply.least_flies:
        return most
    least = animals(words, supply.least_flies)
    if supply.gap is None:
        return f"{words.t('supply.enough', least=least)} {most}"
    days = words.n("length.days", len(supply.short_days))
    gap = day(words, supply.gap.day_start_ms + NOON_MS)
    return f"{words.t('supply.short', days=days, day=gap, least=least)} {most}"


def _remedies(cage: CageView, words: Localizer) -> Iterator[str]:
    if cage.supply.gap is None:
        return
    for start in cage.starts:
        yield _start_words(start, words)
    for kept in cage.hold_backs:
        yield words.t("supply.keep", cohort=kept.cohort, day=day(words, kept.latest_ms))


def _start_words(start: LatestStart, words: Localizer) -> str:
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
class LearnedRow:
    """A stage with its degree-days from papers and the farm's own."""

    stage: str
    papers: str
    own: str
    rests: str


@dataclass(frozen=True, slots=True)
class Learned:
    """What forecasts rest on."""

    head: str
    feeds: tuple[tuple[str, tuple[LearnedRow, ...]], ...]
    spread: str
    scores: tuple[str, ...]


def learned(view: LearnView, words: Localizer) -> Learned:
    """The farm's own numbers beside those from papers, and how good past forecasts were."""
    taught = words.n("learned.taught", len(view.taught)) if view.taught else words.t("learned.nothing")
    feeds = tuple(
        (
            words.t("learned.constants") if feed.feed is None else words.t("learned.on_feed", feed=feed.feed),
            tuple(_constant(each, words) for each in feed.constants),
        )
        for feed in view.feeds
    )
    own, prior = (words.number(100.0 * each, 1) for each in (view.spread_own, view.spread_prior))
    scores = [_score(lead, found, words) for lead, found in view.scores.items()]
    return Learned(
        head=taught,
        feeds=feeds,
        spread=words.t("learned.spread", own=own, prior=prior),
        scores=tuple(scores) or (words.t("learned.no_score"),),
    )


def _constant(each: LearnedConstant, words: Localizer) -> LearnedRow:
    papers, own = (
        words.t("learned.span", middle=words.number(middle), low=words.number(low), high=words.number(high))
        for middle, low, high in (
            (each.prior, each.prior_low, each.prior_high),
            (each.own, each.own_low, each.own_high),
        )
    )
    rests = words.n("learned.cohorts", each.cohorts) if each.cohorts else words.t("learned.papers_only")
    return LearnedRow(words.t(f"stage.{each.stage}"), papers, own, rests)


def _score(lead_days: int, found: ForecastScore, words: Localizer) -> str:
    return words.t(
        "learned.score_later" if found.bias_days > 0 else "learned.score_earlier",
        lead=words.n("length.days", lead_days),
        count=words.number(found.forecasts),
        off=days_long(words, found.mean_absolute_error_days),
        bias=days_long(words, found.bias_days),
        held=words.number(100.0 * found.held_share),
    )
