"""What a winter may bring to the open air of a site: by its record, or on the safe side where there is none."""

from dataclasses import dataclass

import numpy as np

from carewatch.forecast.history import YEAR_D, DailyHistory, around_the_year, seasonal_mean_c
from carewatch.forecast.normals import latitude_normals_c, normals_c
from carewatch.forecast.weather import Array, Times
from carewatch.place.spot import Site
from carewatch.tasks.ahead import cold_spell_k, usual_mean_c, winter_on_record
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.task import BY_REGION, GUESSED

# Midwinter follows midwinter's sun by about a month: the trough of the season's mean (forecast.history).
COLDEST_DAY = 23.0


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
    others. [°C] Without a winter on record the normals of stations around stand in, lowered where winters are hard, and
    the forecast counts as well: rather too early than too late. With one on record what had to be ready before does not
    move with the weather of the days.
    """
    usual_c = usual_mean_c(autumn, days, site)
    spell_k = cold_spell_k(autumn, site, numbers.winter_spell_k)
    if winter_on_record(autumn, site.latitude):
        return Outside(days, usual_c, spell_k, usual_c - spell_k)
    colder_k = numbers.unrecorded_k if of_hard_winters(site, numbers) else 0.0
    careful_c = seasonal_mean_c(days, *site.position)
    coldest_day = COLDEST_DAY if site.latitude >= 0 else COLDEST_DAY + 0.5 * YEAR_D
    careful_c = careful_c - colder_k * 0.5 * (1.0 + around_the_year(days, coldest_day))
    mean_c = np.minimum(usual_c, careful_c)
    least_c = np.fmin(mean_c - spell_k, foreseen_c)
    return Outside(days, mean_c, spell_k, least_c, GUESSED if colder_k else BY_REGION)


def of_hard_winters(site: Site, numbers: TaskNumbers) -> bool:
    """Whether midwinter is colder here than on western coasts of the latitude: there winters differ most by place."""
    mild_c = min(latitude_normals_c(site.latitude, site.elevation_m))
    return min(normals_c(*site.position)) < mild_c - numbers.hard_winter_k
