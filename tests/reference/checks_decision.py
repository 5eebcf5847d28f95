"""Scores of warnings and probabilities, and the worth of acting on them, against what is printed of them."""

from dataclasses import replace
from functools import partial

import numpy as np
from scipy.stats import norm

from carewatch.verify.scores import Table, brier, brier_parts, crps
from tests.reference.registry import Chapter, Check

FINLEY_SOURCE = "Finley 1884 tornado forecasts; Murphy 1996, Wea. Forecasting 11:3-20; Wilks 2011, table 8.1 and text"
FINLEY = Table(hits=28, false_alarms=72, misses=23, quiet=2680)
NEVER = Table(hits=0, false_alarms=0, misses=51, quiet=2752)
# score, printed value, half of the last digit printed.
PRINTED = (
    ("correct", 0.966, 0.0005),
    ("detection", 0.549, 0.0005),
    ("false_alarm_ratio", 0.720, 0.0005),
    ("threat_score", 0.228, 0.0005),
    ("bias", 1.96, 0.005),
    ("false_detection", 0.0262, 0.00005),
    ("hanssen_kuipers", 0.523, 0.0005),
    ("heidke", 0.355, 0.0005),
)
RICHARDSON = "Richardson 2000, Q. J. R. Meteorol. Soc. 126:649-667: greatest value equals Hanssen-Kuipers, at C/L = s"
HAND_P = np.array([0.7, 0.9, 0.8, 0.4, 0.2, 0.0, 0.0, 0.0, 0.0, 0.1])
HAND_CAME = np.array([0, 1, 1, 1, 0, 0, 0, 0, 0, 0], dtype=np.bool_)


def _best_ratio() -> float:
    """The cost-loss ratio, on a fine grid, at which Finley's forecasts are worth most."""
    ratios = np.linspace(0.0005, 0.2, 4000)
    return float(ratios[np.argmax([FINLEY.relative_value(float(ratio)) for ratio in ratios])])


def _gaussian_crps() -> float:
    """Many members at the quantiles of a standard normal, and an observation one deviation off."""
    members = norm.ppf((np.arange(4000) + 0.5) / 4000)[:, None]
    return float(crps(members, np.array([1.0]))[0])


def _closed_form() -> float:
    z = 1.0
    return float(z * (2.0 * norm.cdf(z) - 1.0) + 2.0 * norm.pdf(z) - 1.0 / np.sqrt(np.pi))


CHAPTER = Chapter(
    "Warnings and what they are worth",
    (
        *(
            Check(
                f"{name.replace('_', ' ')} of Finley's table [-]",
                FINLEY_SOURCE,
                "28 hits, 72 false alarms, 23 misses, 2680 quiet",
                value,
                tolerance,
                partial(getattr, FINLEY, name),
            )
            for name, value, tolerance in PRINTED
        ),
        Check(
            "proportion correct of never warning [-]", FINLEY_SOURCE, "51 misses", 0.982, 0.0005, lambda: NEVER.correct
        ),
        Check("Heidke of never warning [-]", FINLEY_SOURCE, "51 misses", 0.0, 1e-12, lambda: NEVER.heidke),
        Check(
            "relative value at C/L = s [-]",
            RICHARDSON,
            "Finley's table, s = 51/2803",
            0.523,
            0.0005,
            lambda: FINLEY.relative_value(51.0 / 2803.0),
        ),
        Check(
            "C/L of the greatest value [-]",
            RICHARDSON,
            "Finley's table, s = 51/2803",
            51.0 / 2803.0,
            0.0001,
            _best_ratio,
            "arithmetic",
        ),
        Check(
            "relative value of perfect warnings [-]",
            "Murphy 1977, Mon. Wea. Rev. 105:803-816: perfect expense s C",
            "51 hits, 2752 quiet, C/L 0.3",
            1.0,
            1e-12,
            lambda: Table(51, 0, 0, 2752).relative_value(0.3),
            "arithmetic",
        ),
        Check(
            "relative value of always warning where protecting is cheap [-]",
            "Murphy 1977: climate's expense is min(C, s L)",
            "51 hits, 2752 false alarms, C/L 0.01",
            0.0,
            1e-12,
            lambda: Table(51, 2752, 0, 0).relative_value(0.01),
            "arithmetic",
        ),
        Check(
            "relative value of chance [-]",
            "Wilks 2011: warnings that know nothing have Hanssen-Kuipers 0",
            "warned in a third of all cases, whatever came; C/L = s",
            0.0,
            1e-12,
            lambda: replace(FINLEY, hits=17, false_alarms=2752 / 3, misses=34, quiet=2752 * 2 / 3).relative_value(
                51.0 / 2803.0
            ),
            "arithmetic",
        ),
        Check(
            "Brier score [-]",
            "scikit-learn documentation, example of brier_score_loss",
            "y 0 1 1 0, p .1 .9 .8 .3",
            0.0375,
            1e-12,
            lambda: brier(np.array([0.1, 0.9, 0.8, 0.3]), np.array([0, 1, 1, 0], dtype=np.bool_)),
        ),
        Check(
            "Brier score of ten cases [-]",
            "sum by hand",
            "see code",
            0.095,
            1e-12,
            lambda: brier(HAND_P, HAND_CAME),
            "arithmetic",
        ),
        Check(
            "reliability - resolution + uncertainty [-]",
            "Murphy 1973, J. Appl. Meteorol. 12:595-600: the parts add up to the score",
            "the ten cases, one probability per bin",
            0.095,
            1e-12,
            lambda: brier_parts(HAND_P, HAND_CAME, bins=10).score,
            "arithmetic",
        ),
        Check(
            "CRPS of a Gaussian, one deviation off [-]",
            "Gneiting et al. 2005, Mon. Wea. Rev. 133:1098-1118, eq. 5",
            "4000 quantiles of N(0, 1), observed 1",
            _closed_form(),
            0.001,
            _gaussian_crps,
            "other program",
        ),
    ),
)
