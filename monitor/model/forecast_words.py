"""What a forecast rests on, in plain words."""

from __future__ import annotations

from monitor.model.forecast import CohortForecast, Heat
from monitor.model.rates import DrivenBy

_USED = {DrivenBy.AIR: "air temperature", DrivenBy.SUBSTRATE: "substrate temperature"}


def remarks(forecast: CohortForecast) -> tuple[str, ...]:
    """Short sentences for the person who reads a forecast, the most important first.

    Parameters
    ----------
    forecast : CohortForecast
        The forecast of one cohort.

    Returns
    -------
    tuple of str
        At least one sentence [text].

    Source
    ------
    Heat: Tomberlin, Adler & Myers 2009. Bin above air: Padmanabha et al. 2023.
    """
    if forecast.unknown_since_ms is not None:
        return (
            "Progress is not known: no temperature came for more than two days. "
            "Log the next event that you see, and the forecast starts again from it.",
        )
    found = [_heat(forecast), _probe(forecast), _estimated(forecast), _basis(forecast)]
    return tuple(sentence for sentence in found if sentence)


def _heat(forecast: CohortForecast) -> str:
    hours = f"{forecast.heat_hours:.0f} hours" if forecast.heat_hours >= 1.5 else "About an hour"
    if forecast.heat is Heat.MAY_FAIL:
        return f"{hours} above the heat limit so far: many of these animals may never emerge."
    if forecast.heat is Heat.WARNING:
        return f"{hours} above the heat limit so far. Fewer may emerge than shown."
    return ""


def _probe(forecast: CohortForecast) -> str:
    if not forecast.without_probe:
        return ""
    return (
        "From air temperature: a dense bin can run many degrees hotter. "
        "A probe in the substrate would make this forecast narrower."
    )


def _estimated(forecast: CohortForecast) -> str:
    if forecast.estimated_hours < 1.0:
        return ""
    return f"{forecast.estimated_hours:.0f} hours were estimated from other days, so the dates are less sure."


def _basis(forecast: CohortForecast) -> str:
    used = f", read from the {_USED[forecast.used]}" if forecast.used else ""
    if forecast.cohorts == 0:
        return f"Rests on published numbers; no cohort of your own has taught all coming stages yet{used}."
    own = "1 cohort" if forecast.cohorts == 1 else f"{forecast.cohorts} cohorts"
    return f"Rests on {own} of your own{used}."
