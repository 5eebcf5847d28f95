"""Hours before now on which fast state (floor, root ball, water) settles before the forecast begins."""

from dataclasses import dataclass

import numpy as np

from carewatch.forecast.weather import Hours, Weather

SPIN_UP_DAYS = 14
ASSUMED_H = 72


@dataclass(frozen=True)
class SpinUp:
    """Hours that end at now, one member; assumed: some of them repeat a day because the record is short."""

    hours: Hours
    assumed: bool


def spin_up(weather: Weather) -> SpinUp:
    """
    The 14 days of the record before the last UTC midnight, and today's hours: at every hour of a day from the same one.

    A shorter record is preceded by 72 hours of its first day's weather; without 24 hours of record the first day of
    the forecast's middle member stands in for the past.
    """
    past = weather.past
    wanted = SPIN_UP_DAYS * 24
    if len(past) >= wanted:
        today = int((past.times[-1] - past.times[-1].astype("datetime64[D]")) / np.timedelta64(1, "h"))
        return SpinUp(_last(past, wanted + today), False)
    first_day = past if len(past) >= 24 else _middle_member(weather.ahead)
    day = {name: values[:24] for name, values in first_day.values.items()}
    hours = day["air_temp_c"].shape[0]
    repeats = -(-ASSUMED_H // hours)
    lead = {name: np.concatenate([values] * repeats, axis=0)[-ASSUMED_H:] for name, values in day.items()}
    record = {name: np.concatenate([lead[name], past.values[name]], axis=0) for name in lead}
    start = past.times[0] if len(past) else weather.ahead.times[0]
    # The day's own hour of the clock is kept, so that its sun and its warmth agree.
    shift = int((start - first_day.times[0]) / np.timedelta64(1, "h")) % 24
    if shift:
        record = {
            name: np.concatenate([np.roll(lead[name], -shift, axis=0), past.values[name]], axis=0) for name in lead
        }
    before = start - np.arange(ASSUMED_H, 0, -1) * np.timedelta64(3600, "s")
    times = np.concatenate([before.astype("datetime64[s]"), past.times])
    return SpinUp(Hours(times, record), True)


def _last(hours: Hours, count: int) -> Hours:
    return Hours(hours.times[-count:], {name: values[-count:] for name, values in hours.values.items()})


def _middle_member(hours: Hours) -> Hours:
    return Hours(hours.times, {name: np.median(values, axis=1, keepdims=True) for name, values in hours.values.items()})
