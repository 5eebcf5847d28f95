"""What a winter may bring to the open air of a site: by its record, or on the safe side where there is none."""

from dataclasses import dataclass

import numpy as np

from carewatch.forecast.history import DailyHistory, seasonal_mean_c
from carewatch.forecast.weather import Array, Times
from carewatch.place.spot import Site
from carewatch.tasks.ahead import cold_spell_k, usual_mean_c, winter_on_record
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.task import BY_LATITUDE, GUESSED

# Midwinter follows midwinter's sun by about a month: the trough of the season's mean (forecast.history).
COLDEST_DAY, YEAR_D = 23.0, 365.25


@dataclass(frozen=True)
class Outside:
    """
    The open air on the days of the prospects.

    days: datetime64[D]. mean_c: usual daily means. [°C] spell_k: the coldest three days of a winter below them. [K]
    least_c: what a cold spell or the forecast may bring. [°C]
    rests_on: what it rests on, where that is no winter of this site, as a sentence; "" where it is.
    """

    days: Times
    mean_c: Array
    spell_k: float
    least_c: Array
    rests_on: str = ""


def outside_of(autumn: DailyHistory, days: Times, foreseen_c: Array, site: Site, numbers: TaskNumbers) -> Outside:
    """
    What the winter may bring.

    autumn: the record up to the equinox before it. foreseen_c: daily means of the days that a forecast knows, NaN on
    others. [°C] Without a winter on record the season's mean of the latitude stands in, which holds on mild western
    coasts; elsewhere it is lowered to the winters of that part of the world, and the forecast counts as well: rather
    too early than too late. With one on record what had to be ready before does not move with the weather of the days.
    """
    usual_c = usual_mean_c(autumn, days, site.latitude, site.elevation_m)
    spell_k = cold_spell_k(autumn, site.latitude, site.elevation_m, numbers.winter_spell_k)
    if winter_on_record(autumn, site.latitude):
        return Outside(days, usual_c, spell_k, usual_c - spell_k)
    colder_k = midwinter_colder_k(site.latitude, site.longitude, numbers)
    careful_c = seasonal_mean_c(days, site.latitude, site.elevation_m) - colder_k * _share_of_winter(days)
    mean_c = np.minimum(usual_c, careful_c)
    least_c = np.fmin(mean_c - spell_k, foreseen_c)
    return Outside(days, mean_c, spell_k, least_c, GUESSED if colder_k else BY_LATITUDE)


def _share_of_winter(days: Times) -> Array:
    """How much of what midwinter is colder than the mean counts on a day: all of it then, none in July. [0-1]"""
    year_day = (days - days.astype("datetime64[Y]")).astype(np.float64)
    share: Array = 0.5 * (1.0 + np.cos(2.0 * np.pi * (year_day - COLDEST_DAY) / YEAR_D))
    return share


def midwinter_colder_k(latitude: float, longitude: float, numbers: TaskNumbers) -> float:
    """
    By how much January may lie below the season's mean of the latitude in that part of the world. [K]

    latitude, longitude: north and east positive. [°] None in the south, where no land is far from the sea.
    """
    for south, north, west, east, base_k, by_latitude, by_longitude, most_k in numbers.cold_regions:
        if south <= latitude < north and west <= longitude < east:
            colder = base_k + by_latitude * (latitude - south) + by_longitude * (longitude - west)
            return float(min(max(colder, 0.0), most_k))
    return 0.0
