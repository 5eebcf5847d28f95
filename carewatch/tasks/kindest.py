"""The days of a forecast, and which of them are kind to a task: simple rules, declared in tasks.toml."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from carewatch.forecast.weather import Array, DayMeans, Times, Weather
from carewatch.tasks.numbers import KindRule
from carewatch.tasks.task import KindDay

# Daylight in which work is done, site time: the hours that end from nine to eighteen o'clock. Judged.
DAYLIGHT = (9, 18)
# A day is known when so many of its hours are (judged: three quarters).
HOURS_NEEDED = 18
# What one day in ten exceeds is reckoned with (judged). [-]
WARY = 0.9
MOST_DAYS = 3


@dataclass(frozen=True)
class DayAhead:
    """
    One day of the forecast as a wary grower reads it; NaN where it is not known.

    least_c: lowest of the day and of the night after it; most_c: highest. [°C]; gust_ms: highest in daylight, at 10 m.
    [m s⁻¹]; rain_mm: in daylight. [mm]; cloud: mean in daylight. [0-1]
    """

    on: date
    least_c: float
    most_c: float
    gust_ms: float
    rain_mm: float
    cloud: float


def days_ahead(weather: Weather, local: Times) -> tuple[DayAhead, ...]:
    """
    The whole days of a forecast, today's rest included while most of its daylight is to come.

    local: the forecast's hours in site time, shape (hour,).
    """
    days = local.astype("datetime64[D]")
    hour = ((local - days) / np.timedelta64(1, "h")).astype(np.int64)
    found = []
    for day in np.unique(days):
        light = (days == day) & (hour >= DAYLIGHT[0]) & (hour <= DAYLIGHT[1])
        following = (local > day) & (local <= day + np.timedelta64(33, "h"))
        if np.count_nonzero(light) < (DAYLIGHT[1] - DAYLIGHT[0] + 1) // 2:
            continue
        if np.count_nonzero(following) < HOURS_NEEDED:
            continue
        found.append(
            DayAhead(
                on=day.astype("datetime64[D]").astype(object),
                least_c=_quantile(_known(weather, "air_temp_c", following), "min", 1.0 - WARY),
                most_c=_quantile(_known(weather, "air_temp_c", light), "max", WARY),
                gust_ms=_quantile(_known(weather, "gust_10m_ms", light), "max", WARY),
                rain_mm=_quantile(_known(weather, "rain_mm", light), "sum", 0.75),
                cloud=_quantile(_known(weather, "cloud", light), "mean", 0.5),
            )
        )
    return tuple(found)


def foreseen_means(weather: Weather, local: Times) -> DayMeans:
    """Daily means of the forecast's whole days, the middle of its members."""
    days = local.astype("datetime64[D]")
    known = np.arange(days.size) < weather.known_until["air_temp_c"]
    whole = [day for day in np.unique(days) if np.count_nonzero((days == day) & known) >= HOURS_NEEDED]
    air = weather.ahead.values["air_temp_c"]
    means = [float(np.median(air[days == day].mean(axis=0))) for day in whole]
    return DayMeans(np.array(whole, dtype="datetime64[D]"), np.array(means))


def kindest(
    days: Sequence[DayAhead], rule: KindRule, first: date, last: date, soonest: bool = False
) -> tuple[tuple[KindDay, ...], str]:
    """
    The days of a window that keep a rule, the kindest first, at most three; and why none does, or "".

    Of days that keep it the one with the most room to spare is the kindest; soonest: the first of them is, since what
    is overdue should not wait for a better one.
    """
    inside = [day for day in days if first <= day.on <= last]
    kind = [(room, day) for day in inside if (room := _room(day, rule)) >= 0.0]
    kind.sort(key=lambda item: (0.0 if soonest else -item[0], item[1].on))
    chosen = tuple(KindDay(day.on, _why(day, rule)) for _, day in kind[:MOST_DAYS])
    if chosen or not inside:
        return chosen, ""
    return (), f"no day of the forecast suits: {_worst(inside, rule)}"


def _margins(day: DayAhead, rule: KindRule) -> dict[str, float]:
    """Room to spare by condition, in parts of a usual span (8 K, 8 m/s, 4 mm, half the sky); below 0: not kept."""
    margins = {}
    if rule.least_above_c is not None:
        margins["frost"] = (day.least_c - rule.least_above_c) / 8.0
    if rule.most_below_c is not None:
        margins["warmth"] = (rule.most_below_c - day.most_c) / 8.0
    if rule.gust_below_ms is not None:
        margins["gusts"] = (rule.gust_below_ms - day.gust_ms) / 8.0
    if rule.rain_below_mm is not None:
        margins["rain"] = (rule.rain_below_mm - day.rain_mm) / 4.0
    if rule.cloud_above is not None:
        margins["sun"] = (day.cloud - rule.cloud_above) / 0.5
    # What is not known is not kind.
    return {name: value if np.isfinite(value) else -1.0 for name, value in margins.items()}


def _room(day: DayAhead, rule: KindRule) -> float:
    """The sum of the margins, each counted to one, or the worst of them when it is not kept."""
    margins = list(_margins(day, rule).values())
    worst = min(margins, default=0.0)
    return worst if worst < 0.0 else sum(min(margin, 1.0) for margin in margins)


def _why(day: DayAhead, rule: KindRule) -> str:
    said = []
    if rule.cloud_above is not None:
        said.append("overcast" if day.cloud > 0.8 else "cloudy")
    if rule.rain_below_mm is not None:
        said.append("dry")
    if rule.gust_below_ms is not None:
        said.append(f"gusts to {day.gust_ms:.0f} m/s")
    if rule.least_above_c is not None:
        said.append(f"least {day.least_c:.0f} °C".replace("-", "−"))
    if rule.most_below_c is not None:
        said.append(f"most {day.most_c:.0f} °C".replace("-", "−"))
    return ", ".join(said)


def _worst(days: Sequence[DayAhead], rule: KindRule) -> str:
    """What is in the way on most of the days."""
    broken = [name for day in days for name, margin in _margins(day, rule).items() if margin < 0.0]
    return " and ".join(sorted(set(broken), key=lambda name: (-broken.count(name), name))[:2])


def _known(weather: Weather, name: str, hours: NDArray[np.bool_]) -> Array:
    """Values of these hours, shape (hour, member); NaN from the hour on that is not known."""
    values = weather.ahead.values[name][hours]
    unknown = np.flatnonzero(hours) >= weather.known_until[name]
    result: Array = np.where(unknown[:, None], np.nan, values)
    return result


def _quantile(values: Array, kind: str, share: float) -> float:
    """A quantile over members of the day's lowest, highest, sum or mean; NaN if any hour is not known."""
    over = {
        "min": values.min(axis=0),
        "max": values.max(axis=0),
        "sum": values.sum(axis=0),
        "mean": values.mean(axis=0),
    }
    return float(np.quantile(over[kind], share))
