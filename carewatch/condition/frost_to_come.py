"""The coldest night that the climate of a site still has in store before buds would open outside."""

import numpy as np

from carewatch.forecast.history import DailyHistory

# How far ahead: from the first stir of buds to leaf-out outside (judged: six weeks). [d]
AHEAD_DAYS = 42
YEAR_DAYS = 365
# Days that are taken together for the mean of a time of year. [d]
SMOOTHED_DAYS = 31
# A spring night in six weeks falls below the mean of its day by half of the daily range of a clear day, 5 K, and by a
# cold spell of two standard deviations of daily means, 2 × 3 K (estimate: spreads of daily means in March and April
# are 3 to 4 K in Potsdam and De Bilt; from memory). [K]
NIGHT_BELOW_K, SPELL_BELOW_K = 5.0, 6.0


def frost_to_come_c(history: DailyHistory) -> float:
    """
    Air of the coldest night to be expected within six weeks, by the same weeks of the year before. [°C]

    history: of the open air; without a year of it nothing is known: inf.
    """
    today = history.days.size - 1
    first = today - YEAR_DAYS
    if first < 0:
        return float(np.inf)
    half = SMOOTHED_DAYS // 2
    mean_c = history.mean_c
    means = [
        float(mean_c[max(0, day - half) : min(day + half + 1, mean_c.size)].mean())
        for day in range(first, first + AHEAD_DAYS + 1, 7)
    ]
    return min(means) - NIGHT_BELOW_K - SPELL_BELOW_K
