"""Where a day stands in the year, told by the sun alone: the same words north and south, and no dates."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.care.species import Species
from carewatch.forecast.weather import Array, Times
from carewatch.physics.sun import declination_rad

# Half the span of the declination as FAO-56 eq. 24 has it. [rad]
OBLIQUITY_RAD = 0.409
# Within the tropics growth follows rain and works, and no observation is out of season (judged). [°]
TROPICS = 23.5
# Heights of the sun between its lowest (0) and its highest noon (1), on the way down: what northern growers call
# mid-August and 1 September (declination 14 and 8°; dates common practice). [-]
LATE_SUMMER = 0.8
EARLY_AUTUMN = 0.68
EQUINOX = 0.5


@dataclass(frozen=True)
class Season:
    """
    Arrays (day,).

    height: where the noon sun stands between its lowest of the year (0) and its highest (1). [-]
    rising: days lengthen; length_h: of the day. [h]
    """

    height: Array
    rising: NDArray[np.bool_]
    length_h: Array


def season_of(days: Times, latitude: float) -> Season:
    """
    Season of each day.

    days: datetime64[D]; latitude: north positive. [°]
    Source: declination and day length after FAO-56 eq. 24, 25 and 34.
    """
    year_day = (days - days.astype("datetime64[Y]")).astype(np.float64) + 1.0
    side = 1.0 if latitude >= 0 else -1.0
    declination = declination_rad(year_day)
    height = 0.5 + 0.5 * side * declination / OBLIQUITY_RAD
    rising = side * (declination_rad(year_day + 1.0) - declination) > 0.0
    with np.errstate(invalid="ignore"):
        cosine = np.clip(-np.tan(np.radians(latitude)) * np.tan(declination), -1.0, 1.0)
    return Season(height, rising, 24.0 / np.pi * np.arccos(cosine))


def before_autumn(season: Season) -> NDArray[np.bool_]:
    """Days on which young roots still ripen: until early September of the north (common practice)."""
    result: NDArray[np.bool_] = season.rising | (season.height >= EARLY_AUTUMN)
    return result


def late_leaf(day: np.datetime64, latitude: float) -> bool:
    """Whether leaves have laid in most of next year's reserves: from mid-August of the north on (estimate)."""
    season = season_of(np.array([day]), latitude)
    return bool(~season.rising[0] & (season.height[0] < LATE_SUMMER)) or bool(
        season.rising[0] & (season.height[0] < EQUINOX)
    )


# The seasons in which a phase can be seen at all, months wider than in any garden: (lowest, highest) sun height while
# days lengthen and while they shorten; None: never. Judged.
FITTING: dict[str, tuple[tuple[float, float] | None, tuple[float, float] | None]] = {
    "bud-swell": ((0.0, 1.0), (0.0, 0.15)),
    "leaf-out": ((0.0, 1.0), (0.5, 1.0)),
    "mature": ((0.4, 1.0), (0.0, 1.0)),
    "colouring": ((0.0, 0.1), (0.0, 0.9)),
    "dormant": ((0.0, 0.9), (0.0, 0.8)),
}
REMEDIES = {
    "bud-swell": "buds that move again after stripping are seen as leaf-out or new-growth",
    "leaf-out": "leaves that are still there are seen as mature or colouring",
    "mature": "new leaves are seen as leaf-out, a bare tree as dormant",
    "colouring": "leaves that are burnt or dried are seen as scorch, lost ones as leaf-fall",
    "dormant": "leaves that were lost in season are seen as leaf-fall, leaves taken off as the work defoliate",
}


def out_of_season(seen: str, day: np.datetime64, latitude: float, species: Species) -> str:
    """
    What to log instead, where a phase cannot have been seen on that day; "" where it fits.

    seen: an observation of the care log; day: datetime64[D]; latitude: north positive. [°]
    Evergreens and kinds that need no chill may flush whenever it is warm; fallen leaves are possible at any time.
    """
    fitting = FITTING.get(seen)
    free = seen in ("bud-swell", "leaf-out", "mature") and (species.evergreen or species.chill_portions == 0.0)
    if fitting is None or free or abs(latitude) < TROPICS:
        return ""
    season = season_of(np.array([day]), latitude)
    window = fitting[0 if season.rising[0] else 1]
    if window is not None and window[0] <= season.height[0] <= window[1]:
        return ""
    return REMEDIES[seen]
