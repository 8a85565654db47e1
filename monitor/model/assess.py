"""Quantities computed from what a place measures, ready for rules."""

from __future__ import annotations

from collections.abc import Mapping

from monitor.model.psychrometrics import dew_point_c, vapour_pressure_deficit_pa
from monitor.records import Computed, Quantity

LOWEST_HUMIDITY_PERCENT = 1.0


def computed(values: Mapping[str, float], surface_colder_by_k: float | None = None) -> dict[str, float]:
    """Compute drying power, dew point and margin to condensation, as far as the readings reach.

    Parameters
    ----------
    values : mapping of str to float
        latest good value of each quantity of one place, in its canonical unit
    surface_colder_by_k : float or None
        how much colder than the air its coldest surface is [K], where no surface probe is given

    Returns
    -------
    dict
        vapour pressure deficit [Pa], dew point [°C], condensation margin [K]; a key is missing where a
        reading is, or where humidity is below 1 % and the dew point means nothing

    Notes
    -----
    margin = T_surface - T_dew; water condenses at a margin of 0 or less. A humidity above 100 % (sensors
    say so when wetted) counts as 100 %.
    """
    air_c, humidity = values.get(Quantity.AIR_TEMPERATURE), values.get(Quantity.AIR_HUMIDITY)
    if air_c is None or humidity is None or humidity < LOWEST_HUMIDITY_PERCENT:
        return {}
    humidity_percent = min(humidity, 100.0)
    dew_c = float(dew_point_c(air_c, humidity_percent))
    found: dict[str, float] = {
        Computed.VAPOUR_PRESSURE_DEFICIT: float(vapour_pressure_deficit_pa(air_c, humidity_percent)),
        Computed.DEW_POINT: dew_c,
    }
    surface_c = _surface_c(values, air_c, surface_colder_by_k)
    if surface_c is not None:
        found[Computed.CONDENSATION_MARGIN] = surface_c - dew_c
    return found


def _surface_c(values: Mapping[str, float], air_c: float, colder_by_k: float | None) -> float | None:
    measured = values.get(Quantity.SURFACE_TEMPERATURE)
    if measured is not None:
        return measured
    return None if colder_by_k is None else air_c - colder_by_k
