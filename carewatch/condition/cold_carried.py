"""Cold above zero that leaves of tender kinds carry from the nights before now."""

import numpy as np

from carewatch.condition.chill import DAILY_RANGE_K
from carewatch.condition.lived import Lived

# As hazards.toml, chill (a test holds them equal): cold counts below this, and in so many warm hours all but 1/e of it
# is made good. [°C], [h]
BELOW_C, MENDS_H = 10.0, 72.0
# What lies further back has been made good or done its harm. [d]
LAST_DAYS = 10
# A day's coldest hour is taken at five and its warmest at five in the afternoon (judged: a plain wave). Local hour.
COLDEST_AT_H = 5.0
_WAVE_K = -0.5 * DAILY_RANGE_K * np.cos(2.0 * np.pi * (np.arange(24) + 0.5 - COLDEST_AT_H) / 24.0)


def cold_carried_kh(lived: Lived) -> float:
    """Degree-hours below 10 °C of the last days and of today up to noon, less what warm hours made good. [°C·h]"""
    carried = 0.0
    days = lived.mean_c[-LAST_DAYS:]
    for index, mean_c in enumerate(days.tolist()):
        lacks = np.maximum(BELOW_C - mean_c - _WAVE_K, 0.0)
        if index == days.size - 1:
            lacks = lacks[:12]
        carried = carried * float(np.exp(-np.count_nonzero(lacks == 0.0) / MENDS_H)) + float(lacks.sum())
    return carried
