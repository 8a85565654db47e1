"""What eggs and larvae brought in, where prices are given; without prices nothing speaks of money."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.yields.figures import Figure, Lack, unknown
from monitor.yields.records import EggUse, LarvaeUse


@dataclass(frozen=True, slots=True)
class Prices:
    """What a farm is paid and pays: for a gram of eggs, for a kilogram of larvae, for a kilogram of feed.

    None where it says nothing. `feed_kg` may name feeds; "" is the price of any other feed.
    """

    currency: str
    eggs_gram: float | None = None
    larvae_kg: float | None = None
    feed_kg: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True)
class Income:
    """Money of a span: what was sold, what stayed on the farm at the same price, and what feed cost.

    `kept_worth` (larvae fed to the farm's own animals, eggs set to hatch are not in it) is no money that came
    in. Where nobody said what became of eggs or larvae they count as neither, which `Lack.USE` says.
    """

    currency: str
    eggs: Figure
    larvae: Figure
    kept_worth: Figure
    feed: Figure


def income(
    eggs: Mapping[EggUse | None, float],
    larvae: Mapping[LarvaeUse | None, float],
    feed: Mapping[str | None, float],
    prices: Prices,
) -> Income:
    """Money of what was taken and given in a span: grams of eggs, kg of larvae by use, kg of feed by name."""
    return Income(
        currency=prices.currency,
        eggs=_worth(eggs, EggUse.SOLD, prices.eggs_gram),
        larvae=_worth(larvae, LarvaeUse.SOLD, prices.larvae_kg),
        kept_worth=_worth(larvae, LarvaeUse.FEED, prices.larvae_kg),
        feed=_feed_cost(feed, prices),
    )


def _worth(
    amounts: Mapping[EggUse | None, float] | Mapping[LarvaeUse | None, float],
    use: EggUse | LarvaeUse,
    price: float | None,
) -> Figure:
    if price is None:
        return unknown(Lack.PRICE)
    amount = {str(key): each for key, each in amounts.items() if key is not None}.get(str(use))
    unsaid = (Lack.USE,) if any(key is None for key in amounts) else ()
    return unknown(Lack.NOTHING_WRITTEN, *unsaid) if amount is None else Figure(amount * price, 1, unsaid)


def _feed_cost(feed: Mapping[str | None, float], prices: Prices) -> Figure:
    """What the feed cost; feed without a price is left out, which is said."""
    if not prices.feed_kg:
        return unknown(Lack.PRICE)
    other = prices.feed_kg.get("")
    cost, priced = 0.0, 0
    for name, kg in feed.items():
        price = prices.feed_kg.get(name or "", other)
        cost += 0.0 if price is None else kg * price
        priced += price is not None
    if not priced:
        return unknown(Lack.PRICE if feed else Lack.NOTHING_WRITTEN)
    return Figure(cost, priced, (Lack.PRICE,) if priced < len(feed) else ())


@dataclass(frozen=True, slots=True)
class Lost:
    """What was missing after bad hours, as a range: grams of eggs, of eggs that would have hatched, flies or
    kg of larvae; the same in money where a price is given. `takings` came after such hours."""

    low: float
    middle: float
    high: float
    takings: int
    money: tuple[float, float, float] | None = None


def lost(
    amounts: FloatArray, shares: FloatArray, factors: tuple[float, float, float], price: float | None
) -> Lost:
    """What would have been taken more, had it not gone with such hours.

    `amounts` were taken, `shares` of them came after such hours [1], both of shape (n,); `factors` are those
    of the takings after such hours, from the lowest to the highest [1].
    """
    high, middle, low = (max(float((amounts * (factor**-shares - 1.0)).sum()), 0.0) for factor in factors)
    money = None if price is None else (low * price, middle * price, high * price)
    return Lost(low, middle, high, int(np.count_nonzero(shares)), money)
