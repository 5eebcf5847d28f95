"""
Forecasts made from the weather that came, by errors of a realistic size that grow with lead and shrink as it nears.

What is wrong with the forecast of one hour is a sum of steps, one for each stretch of lead, each of them a slow random
course over the hours foretold. As time goes on the steps of longer leads are taken back one after the other: forecasts
of one hour that follow each other come nearer to the truth as real ones do, and do not jump about.
"""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from itertools import pairwise

import numpy as np

from carewatch.forecast.weather import Array
from tests.stories.weather import UNITS, Answer, Course

# Leads between which an error grows. [h]
LEADS_H = (0.0, 6.0, 24.0, 48.0, 72.0, 96.0, 120.0, 168.0)
# Air: the ensemble mean at Hannover missed 2 m temperature by 1.3, 1.5, 1.6, 1.9, 2.2 K (standard deviation) at 24 to
# 120 h, 2015-2020 (tsEMOS data set); a single run misses by more the further off it is: a twentieth more at one day, a
# quarter at five, and as much again at seven (estimate). [K]
AIR_SD_K = (0.0, 0.8, 1.4, 1.6, 1.9, 2.3, 2.7, 3.6)
# Logarithm of wind and gust, logit of cloud (estimates: half of what a night's wind and cloud vary, at a week). [-]
WIND_SD = (0.0, 0.12, 0.20, 0.23, 0.26, 0.30, 0.34, 0.40)
CLOUD_SD = (0.0, 0.5, 0.9, 1.0, 1.2, 1.4, 1.6, 1.8)
# Errors live as long as the weather systems that carry them: about a day (estimate). [h]
MEMORY_H = 24.0
CLOUD_EDGE = 0.02
# What the second replay adds is a tenth of the spread.
JITTER = 0.1


@dataclass(frozen=True)
class Forecaster:
    """
    A weather service that knows the truth and errs. seed: of its errors.

    jitter: each answer is shaken by such a part of the spread, anew every time. [-]
    """

    truth: Course
    seed: int
    jitter: float = 0.0

    def document(self, issued_at: datetime, past_days: int, ahead_days: int) -> Answer:
        """What it answers: the truth up to now, and from then on what it believes."""
        return self.believed(issued_at).document(issued_at, past_days, ahead_days)

    def believed(self, issued_at: datetime) -> Course:
        """The whole course as it is believed in at a moment."""
        truth, now = self.truth, np.datetime64(issued_at.astimezone(UTC).replace(tzinfo=None), "s")
        lead_h = np.maximum((truth.times - now) / np.timedelta64(3600, "s"), 0.0)
        air, wind, cloud = (self._error(steps, sd, lead_h) for steps, sd in zip(self._steps, _SPREADS, strict=True))
        if self.jitter:
            shaken = np.random.default_rng([self.seed, int(now.astype(np.int64))])
            air, wind, cloud = (
                error + self.jitter * np.interp(lead_h, LEADS_H, sd) * _course(shaken, lead_h.size)
                for error, sd in zip((air, wind, cloud), _SPREADS, strict=True)
            )
        hourly = dict(truth.hourly)
        hourly["temperature_2m"] = truth.hourly["temperature_2m"] + air
        hourly["dew_point_2m"] = np.minimum(truth.hourly["dew_point_2m"] + air, hourly["temperature_2m"])
        for name in ("wind_speed_10m", "wind_gusts_10m"):
            hourly[name] = truth.hourly[name] * np.exp(wind)
        share = np.clip(truth.hourly["cloud_cover"] / 100.0, CLOUD_EDGE, 1.0 - CLOUD_EDGE)
        odds = share / (1.0 - share) * np.exp(cloud)
        told = np.where(lead_h > 0.0, 100.0 * odds / (1.0 + odds), truth.hourly["cloud_cover"])
        hourly["cloud_cover"] = np.asarray(np.round(told), dtype=np.float64)
        # Kasten & Czeplak 1980: what the cloud that is told lets through, of what the true one did.
        dimmed = (1.0 - 0.75 * (told / 100.0) ** 3.4) / (1.0 - 0.75 * (truth.hourly["cloud_cover"] / 100.0) ** 3.4)
        hourly["shortwave_radiation"] = truth.hourly["shortwave_radiation"] * np.minimum(dimmed, 2.0)
        return replace(truth, hourly={name: hourly[name] for name in UNITS})

    @cached_property
    def _steps(self) -> tuple[Array, ...]:
        """For air, wind and cloud: a standard normal course over the hours foretold, per stretch of lead."""
        chance = np.random.default_rng(self.seed)
        stretches = len(LEADS_H) - 1
        return tuple(np.stack([_course(chance, self.truth.times.size) for _ in range(stretches)]) for _ in _SPREADS)

    def _error(self, steps: Array, sd: tuple[float, ...], lead_h: Array) -> Array:
        total = np.zeros(lead_h.size)
        for number, (near, far) in enumerate(pairwise(LEADS_H)):
            more = math.sqrt(max(sd[number + 1] ** 2 - sd[number] ** 2, 0.0))
            total += steps[number] * more * np.clip((lead_h - near) / (far - near), 0.0, 1.0)
        return total


_SPREADS = (AIR_SD_K, WIND_SD, CLOUD_SD)


def _course(chance: np.random.Generator, hours: int) -> Array:
    """A standard normal course over hours that forgets itself within MEMORY_H."""
    kept = float(np.exp(-1.0 / MEMORY_H))
    new: Array = chance.standard_normal(hours)
    course: Array = np.empty(hours)
    course[0] = new[0]
    for hour in range(1, hours):
        course[hour] = kept * course[hour - 1] + math.sqrt(1.0 - kept**2) * new[hour]
    return course
