"""Water that dry feed holds in balance with the air: where drying ends."""

from __future__ import annotations

import numpy as np

from monitor.model.ranges import Value, exponential, logarithm

WHEAT_A, WHEAT_B, WHEAT_C = 610.34, 0.15526, 93.213
"""Chung-Pfost constants of wheat, a proxy: none of wheat bran were found. Source: Storage of Cereal Grains
and Their Products, 5th ed., p. 272, as quoted in public code."""

DRIEST_PERCENT, WETTEST_PERCENT = 5.0, 95.0
"""Air beyond these counts as these [%RH]: the fit ends there. Source: own choice."""


def humidity_in_balance_percent(temperature_c: Value, moisture_dry_basis_percent: Value) -> Value:
    """Relative humidity of the air that stands in balance with wheat.

    Parameters
    ----------
    temperature_c : float
        Temperature [°C], 0 to 50.
    moisture_dry_basis_percent : float
        Water by dry mass [%], 5 to 30.

    Returns
    -------
    float
        Relative humidity [%].

    Notes
    -----
    RH = 100 exp(-A/(T + C) exp(-B M)).

    Source
    ------
    Chung and Pfost 1967; constants see `WHEAT_A`.
    """
    bound = WHEAT_A / (temperature_c + WHEAT_C) * exponential(-WHEAT_B * moisture_dry_basis_percent)
    return 100.0 * exponential(-bound)


def moisture_in_balance(temperature_c: Value, relative_humidity_percent: Value) -> Value:
    """Moisture at which dry feed neither takes up nor gives off water.

    Parameters
    ----------
    temperature_c : float
        Temperature [°C], 0 to 50.
    relative_humidity_percent : float
        Relative humidity [%]; below 5 and above 95 it counts as these.

    Returns
    -------
    float
        Moisture [ratio, wet basis].

    Notes
    -----
    M = -ln(-(T + C) ln(RH/100)/A)/B % dry basis; m = M/(100 + M).

    Source
    ------
    Chung and Pfost 1967 turned round; constants see `WHEAT_A`.
    """
    share = np.clip(relative_humidity_percent, DRIEST_PERCENT, WETTEST_PERCENT) / 100.0
    log_share: Value = np.log(share)
    dry_basis = -logarithm(-(temperature_c + WHEAT_C) * log_share / WHEAT_A) / WHEAT_B
    return dry_basis / (100.0 + dry_basis)
