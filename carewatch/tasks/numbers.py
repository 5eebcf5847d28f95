"""The numbers of the long clock: one frozen value, read from tasks.toml."""

from collections.abc import Mapping
from dataclasses import dataclass


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

    still_days: a layer stands still for so long; hold_enough: anchorage at which ties may go. [0-1]
    warm_mean_c, growth_mean_c, spring_mean_c, spring_tender_mean_c: daily means of the air. [°C]; warm_until_height: of
    the noon sun on its way down, between its lowest (0) and highest (1). [-]; warm_genera: kinds of warm summers, with
    those that cold above zero hurts. around_leaf_out_days: first and last day for root work, by kind of tree.
    wire_grown_days, wire_off_days, wire_off_needle_days: days of growth; the latter two from when to when. [d]
    sever_root_c: of the root zone. [°C]
    winter_margin_k, night_below_mean_k, winter_spell_k: over the limit; night under the day's mean; coldest three days
    under the season's mean. [K]
    kindest: rules by kind of task. sources: by row.
    """

    soon_days: int
    kept_days: int
    put_off_days: int
    still_days: int
    hold_enough: float
    untie_open_days: int
    root_work_days: int
    root_work_early_days: int
    around_leaf_out_days: Mapping[str, tuple[int, int]]
    warm_mean_c: float
    warm_until_height: float
    warm_genera: tuple[str, ...]
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
    feed_first_days: int
    feed_best_days: int
    paste_first_days: int
    paste_last_days: int
    turn_every_days: int
    look_first_days: int
    look_every_days: int
    sever_first_days: int
    sever_root_c: float
    sever_before_days: int
    winter_margin_k: float
    night_below_mean_k: float
    winter_spell_k: float
    winter_open_days: int
    winter_least_days: int
    spring_mean_c: float
    spring_tender_mean_c: float
    spring_mean_days: int
    spring_open_days: int
    kindest: Mapping[str, KindRule]
    sources: Mapping[str, str]
