"""Weather as the engine takes it: complete hours before now, and an ensemble of complete hours after it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Times = NDArray[np.datetime64]


@dataclass(frozen=True)
class Hours:
    """
    Consecutive hours of complete weather.

    times: UTC stamps, datetime64[s], shape (hour,).
    values: every name of forecast.raw.VARIABLES, shape (hour, member); soil_temp_c may be NaN where unknown.
    """

    times: Times
    values: Mapping[str, Array]

    def __len__(self) -> int:
        return int(self.times.size)

    @property
    def members(self) -> int:
        """Number of members."""
        return int(self.values["air_temp_c"].shape[1])


@dataclass(frozen=True)
class DayMeans:
    """Mean air temperatures of days that are on record. days: UTC, datetime64[D], rising; mean_c: of each. [°C]"""

    days: Times
    mean_c: Array


@dataclass(frozen=True)
class Weather:
    """
    What is known about the weather at one moment.

    source, issued_at, age_hours: where the forecast comes from and how old it is at `now`. [h]
    past: hours up to now, one member; ahead: hours after now, all members equally likely.
    members_from: "ensemble" when the source gave members, "dressed" when a single run was spread by its known errors.
    missing: variables that the source did not give (or not for every hour) and physics cannot replace; what was
    assumed instead errs towards danger and hazards that need them say so.
    estimated: variables computed from others, with how.
    known_until: per variable, index into `ahead` of the first hour that is not known (its horizon).
    notes: plain sentences for the reader.
    days: days of the record, which reaches further back than `past`; None where there is no record.
    """

    source: str
    issued_at: datetime
    age_hours: float
    past: Hours
    ahead: Hours
    members_from: str
    missing: tuple[str, ...]
    estimated: tuple[str, ...]
    known_until: Mapping[str, int]
    notes: tuple[str, ...]
    days: DayMeans | None = None


class ForecastUnusable(Exception):
    """The forecast cannot serve at this moment; the message says why and what to do."""
