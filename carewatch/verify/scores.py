"""How good warnings and probabilities were: scores of a yes-or-no table, of probabilities, and their worth."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.forecast.weather import Array


@dataclass(frozen=True)
class Table:
    """
    Warnings against what came, as counts.

    hits: warned and came; false_alarms: warned, did not come; misses: came unwarned; quiet: neither.
    Scores are NaN where their denominator is zero. Names after Wilks 2011, Statistical Methods, ch. 8.
    """

    hits: float
    false_alarms: float
    misses: float
    quiet: float

    @property
    def total(self) -> float:
        """All cases."""
        return self.hits + self.false_alarms + self.misses + self.quiet

    @property
    def base_rate(self) -> float:
        """Share of cases in which the event came. [0-1]"""
        return _share(self.hits + self.misses, self.total)

    @property
    def correct(self) -> float:
        """Proportion correct. [0-1]"""
        return _share(self.hits + self.quiet, self.total)

    @property
    def detection(self) -> float:
        """Probability of detection, hit rate. [0-1]"""
        return _share(self.hits, self.hits + self.misses)

    @property
    def false_detection(self) -> float:
        """Probability of false detection: warned among what did not come. [0-1]"""
        return _share(self.false_alarms, self.false_alarms + self.quiet)

    @property
    def false_alarm_ratio(self) -> float:
        """Share of warnings that were not needed. [0-1]"""
        return _share(self.false_alarms, self.hits + self.false_alarms)

    @property
    def bias(self) -> float:
        """Warnings per event. [-]"""
        return _share(self.hits + self.false_alarms, self.hits + self.misses)

    @property
    def threat_score(self) -> float:
        """Critical success index. [0-1]"""
        return _share(self.hits, self.hits + self.false_alarms + self.misses)

    @property
    def hanssen_kuipers(self) -> float:
        """Detection less false detection (Hanssen & Kuipers 1965; Peirce 1884). [-1-1]"""
        return self.detection - self.false_detection

    @property
    def heidke(self) -> float:
        """Proportion correct against that of chance (Heidke 1926). [-1-1]"""
        by_chance = (self.hits + self.misses) * (self.hits + self.false_alarms)
        by_chance += (self.quiet + self.misses) * (self.quiet + self.false_alarms)
        expected = _share(by_chance, self.total)
        return _share(self.hits + self.quiet - expected, self.total - expected)

    def relative_value(self, cost_to_loss: float) -> float:
        """
        What these warnings save of what perfect ones would, for who pays `cost_to_loss` of the loss to protect. [-]

        1: as good as perfect; 0: no better than always or never protecting; below: worse. Expense of a case: the cost
        where it was warned, the loss where it came unwarned (Richardson 2000, Q. J. R. Meteorol. Soc. 126:649-667;
        expense matrix of Murphy 1977, Mon. Wea. Rev. 105:803-816).
        """
        expense = _share((self.hits + self.false_alarms) * cost_to_loss + self.misses, self.total)
        without = min(cost_to_loss, self.base_rate)
        perfect = self.base_rate * cost_to_loss
        return _share(without - expense, without - perfect)


@dataclass(frozen=True)
class BrierParts:
    """
    The Brier score taken apart (Murphy 1973, J. Appl. Meteorol. 12:595-600): reliability - resolution + uncertainty.

    Exact where all probabilities of a bin are equal; otherwise what varies inside of bins is missing.
    """

    reliability: float
    resolution: float
    uncertainty: float

    @property
    def score(self) -> float:
        """The Brier score as its parts give it."""
        return self.reliability - self.resolution + self.uncertainty


def brier(probability: Array, came: NDArray[np.bool_]) -> float:
    """Mean squared error of probabilities (case,) of what came or did not (case,) (Brier 1950). [0-1]"""
    return float(np.mean((probability - came) ** 2))


def brier_parts(probability: Array, came: NDArray[np.bool_], bins: int = 10) -> BrierParts:
    """
    Parts of the Brier score of probabilities (case,) in equal bins.

    Raises ValueError without a case or without a bin.
    """
    if probability.size == 0 or bins < 1:
        raise ValueError("at least one case and one bin are needed")
    which = np.minimum((probability * bins).astype(np.int64), bins - 1)
    count = np.bincount(which, minlength=bins).astype(np.float64)
    used = count > 0
    told = np.bincount(which, weights=probability, minlength=bins)[used] / count[used]
    seen = np.bincount(which, weights=came.astype(np.float64), minlength=bins)[used] / count[used]
    overall = float(came.mean())
    share = count[used] / probability.size
    return BrierParts(
        reliability=float((share * (told - seen) ** 2).sum()),
        resolution=float((share * (seen - overall) ** 2).sum()),
        uncertainty=overall * (1.0 - overall),
    )


def crps(members: Array, observed: Array) -> Array:
    """
    Continuous ranked probability score of an ensemble (member, case) against what came (case,), per case (case,).

    In the unit of the variable; for one member the absolute error. Energy form: E|X - y| - E|X - X'| / 2 (Gneiting &
    Raftery 2007, J. Amer. Stat. Assoc. 102:359-378, eq. 21).
    """
    ranked = np.sort(members, axis=0)
    count = members.shape[0]
    # Mean difference of all pairs from the ranks: 2 / n² Σ (2 i - n - 1) x_i.
    weight = 2.0 * np.arange(1, count + 1) - count - 1.0
    spread = 2.0 * np.tensordot(weight, ranked, axes=1) / count**2
    result: Array = np.abs(members - observed).mean(axis=0) - 0.5 * spread
    return result


def _share(part: float, whole: float) -> float:
    return part / whole if whole else float("nan")
