"""The numbers of the long clock: one frozen value, read from tasks.toml."""

from collections.abc import Mapping
from dataclasses import dataclass

from carewatch.care.work_rules import WorkRules
from carewatch.limits.doses import HazardNumbers


@dataclass(frozen=True)
class KindRule:
    """
    What makes a day kind to a task; None: it does not matter.

    least_above_c: lowest temperature of the day and the night after it; most_below_c: highest of the day. [°C]
    gust_below_ms: highest gust at 10 m in daylight. [m s⁻¹]; rain_below_mm: in daylight. [mm]
    cloud_above: mean in daylight. [0-1]
    """

    least_above_c: float | None
    most_below_c: float | None
    gust_below_ms: float | None
    rain_below_mm: float | None
    cloud_above: float | None
    source: str


@dataclass(frozen=True)
class TaskNumbers:
    """
    The rows of tasks.toml in their order; names ending in _days are calendar days unless they are of growth. [d]

    hold_enough: anchorage at which ties may go. [0-1]
    growth_mean_c, spring_mean_c, spring_tender_mean_c, uncover_mean_c: daily means of the air. [°C]
    tie_bites_days, wire_grown_days, wire_off_days, wire_off_needle_days: days of growth, pairs from when to when. [d]
    winter_margin_k, night_below_mean_k, winter_spell_k: over the limit; night under the day's mean; coldest three days
    under the season's mean. [K]
    summer_margin_k, hot_above_mean_k, summer_spell_k: under the limit; a hot day's highest over its mean; hottest three
    days over the season's mean. [K] pot_sun_k, leaf_sun_k: outer roots behind a black wall in a dry pot and leaves,
    in full sun, over the air. [K] heat_hours: that a hot afternoon lasts. [h]
    unrecorded_k: by so much January is taken below the normals of stations around where no winter is on record, if
    these are hard_winter_k below those of western coasts. [K]
    rules: when works are right at all, from seasons.toml; hazards: what harms, from hazards.toml.
    kindest: rules by kind of task. sources: by row.
    """

    soon_days: int
    kept_days: int
    put_off_days: int
    hold_enough: float
    untie_open_days: int
    tie_every_days: int
    tie_bites_days: tuple[int, int]
    growth_mean_c: float
    wire_grown_days: int
    wire_every_days: int
    wire_off_days: tuple[int, int]
    wire_off_needle_days: tuple[int, int]
    sacrifice_before_days: int
    sacrifice_after_days: int
    end_shade_days: int
    second_shade_before_days: int
    second_shade_after_days: int
    feed_best_days: int
    paste_first_days: int
    paste_last_days: int
    turn_every_days: int
    look_every_days: int
    sever_first_days: int
    winter_margin_k: float
    night_below_mean_k: float
    winter_spell_k: float
    winter_open_days: int
    winter_least_days: int
    winter_asleep_days: int
    unrecorded_k: float
    hard_winter_k: float
    spring_mean_c: float
    spring_tender_mean_c: float
    spring_mean_days: int
    spring_open_days: int
    uncover_mean_c: float
    uncover_mean_days: int
    uncover_open_days: int
    summer_margin_k: float
    hot_above_mean_k: float
    summer_spell_k: float
    pot_sun_k: float
    leaf_sun_k: float
    heat_hours: float
    summer_open_days: int
    rules: WorkRules
    hazards: HazardNumbers
    kindest: Mapping[str, KindRule]
    sources: Mapping[str, str]
