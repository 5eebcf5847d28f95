"""What a station recorded, hour by hour, in carewatch's units: what the model gets, and what it is judged by."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

# What no run can do without.
NEEDED = ("air_temp_c", "dew_point_c", "wind_ms", "global_wm2")
# A gap of so many hours is a straight line for the model's memory; its hours are never scored.
LONGEST_GAP_H = 3
# Clipped grass (Allen et al. 1998, FAO-56). [m]
SHORT_GRASS_M = 0.12


class NotScored(Exception):
    """The file is known but cannot be judged by; the message says why."""


@dataclass(frozen=True)
class Record:
    """
    Consecutive hours of one station. All series of shape (hour,).

    name: of the file; form: what kind of file; times: stamps at which the hours end, datetime64[s], the file's clock.
    inputs: air_temp_c, dew_point_c [°C], wind_ms at wind_height_m [m s⁻¹], global_wm2 [W m⁻²], and where the file has
    them cloud [0-1], longwave_wm2 that comes down [W m⁻²], soil_temp_c [°C]. Without gaps.
    known: hours in which every input was recorded.
    target_c: what was recorded at target_height_m (0: the surface itself) as the least or mean of block_h hours that
    end at the stamp, NaN where there is none. [°C]
    sward_m: height of the plants around. [m]
    location: latitude, longitude [°] and elevation [m], where the file says so.
    """

    name: str
    form: str
    times: NDArray[np.datetime64]
    inputs: Mapping[str, Array]
    known: Flags
    wind_height_m: float
    target_c: Array
    target_height_m: float
    block_h: int
    sward_m: float = SHORT_GRASS_M
    location: tuple[float, float, float] | None = None

    @property
    def days(self) -> NDArray[np.int64]:
        """Number of the day, noon to noon, so that a night is in one piece."""
        shifted = self.times - np.timedelta64(12, "h") - np.timedelta64(1, "s")
        days: NDArray[np.int64] = shifted.astype("datetime64[D]").astype(np.int64)
        return days


def record_of(
    name: str,
    form: str,
    frame: pd.DataFrame,
    wind_height_m: float,
    target_height_m: float,
    block_h: int,
    sward_m: float = SHORT_GRASS_M,
    location: tuple[float, float, float] | None = None,
) -> Record:
    """
    Record of a frame whose index is hourly stamps and whose columns are inputs and `target_c`.

    Raises NotScored when an input is missing or has a gap that is too long.
    """
    frame = frame.reindex(pd.date_range(frame.index[0], frame.index[-1], freq="1h"))
    absent = [column for column in NEEDED if column not in frame or frame[column].isna().all()]
    if absent:
        raise NotScored("not recorded: " + ", ".join(absent))
    inputs = frame.drop(columns="target_c").dropna(axis="columns", how="all")
    filled = inputs.interpolate(method="linear", limit_direction="both")
    gap = inputs.isna()
    longest = max(int(gap[column].groupby((~gap[column]).cumsum()).sum().max()) for column in gap)
    if longest > LONGEST_GAP_H:
        raise NotScored(f"a gap of {longest} hours; split the file there")
    return Record(
        name,
        form,
        frame.index.to_numpy().astype("datetime64[s]"),
        {str(column): filled[column].to_numpy(np.float64) for column in filled},
        (~gap.any(axis=1)).to_numpy(),
        wind_height_m,
        frame["target_c"].to_numpy(np.float64),
        target_height_m,
        block_h,
        sward_m,
        location,
    )


def hourly_means(frame: pd.DataFrame) -> pd.DataFrame:
    """Means of the hours that end at the stamp, from rows that are stamped at the end of what they cover."""
    return frame.resample("1h", closed="right", label="right").mean()
