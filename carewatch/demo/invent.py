"""
Writes the demo's weather: two episodes that never happened, in a garden that does not exist.

`python -m carewatch.demo.invent` rewrites cold-night.json and dry-week.json beside this module. The files have the form
of an answer of the Open-Meteo forecast API (hourly, GMT, unixtime, wind in m s⁻¹), but no value in them was measured or
forecast by anyone: each episode is a table of days, made up by hand below, drawn out into hours by simple formulas.
There is no chance in it: the same tables give the same bytes.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Hours = NDArray[np.float64]

LATITUDE = 50.3
LONGITUDE = 9.1
ELEVATION_M = 250.0

UNITS = {
    "time": "unixtime",
    "temperature_2m": "°C",
    "relative_humidity_2m": "%",
    "dew_point_2m": "°C",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "direct_normal_irradiance": "W/m²",
    "diffuse_radiation": "W/m²",
    "cloud_cover": "%",
    "precipitation": "mm",
    "rain": "mm",
    "snowfall": "cm",
    "snow_depth": "m",
    "surface_pressure": "hPa",
    "soil_temperature_6cm": "°C",
}
WHOLE_NUMBERS = ("time", "relative_humidity_2m", "cloud_cover")
WARMEST_AT_H = 14.0
CLOUD_ANCHORS_H = (3.0, 13.0)
HOURS_A_DAY = 24


@dataclass(frozen=True)
class Episode:
    """
    One invented stretch of weather.

    issued_at: the moment at which it claims to have been fetched, UTC.
    coolest_at_h: hour of the day, UTC, of the lowest air temperature: about sunrise. [h]
    days: one line a day, 30 before the issue's date and 8 from it on: month and day; lowest and highest air temperature
    [°C]; dew point at noon [°C]; cloud at 3 and at 13 h [%]; wind by night and in the afternoon [m s⁻¹]; surface
    pressure at noon [hPa]; rain [mm], the hour at which it begins and how many hours it lasts. All hours are UTC.
    """

    file: str
    issued_at: datetime
    coolest_at_h: float
    days: str


COLD_NIGHT = Episode(
    file="cold-night.json",
    issued_at=datetime(2026, 11, 5, 11, tzinfo=UTC),
    coolest_at_h=6.0,
    days="""
        10-06   8.4  15.1   8.2   40  50   1.4  3.2   988   0.0   0  0
        10-07   7.1  15.8   7.6   20  35   0.9  2.6   990   0.0   0  0
        10-08   7.9  14.6   8.8   60  75   1.6  3.4   986   1.2  15  3
        10-09   9.3  13.4   9.6   90  95   2.8  4.6   978   4.6   4  7
        10-10   8.1  12.9   7.4   70  60   2.4  4.9   981   0.8  13  2
        10-11   6.6  13.7   6.8   40  45   1.5  3.6   987   0.0   0  0
        10-12   6.2  14.2   7.1   30  55   1.1  2.9   989   0.0   0  0
        10-13   7.8  13.1   8.3   80  85   1.7  3.1   986   0.6   9  2
        10-14   8.7  12.4   8.9   95 100   2.2  3.8   981   3.4   7  6
        10-15   7.2  12.8   7.0   60  55   1.9  4.0   984   0.0   0  0
        10-16   5.6  13.3   6.1   25  30   1.0  2.7   989   0.0   0  0
        10-17   5.1  14.1   6.4   15  25   0.8  2.3   991   0.0   0  0
        10-18   5.9  14.4   6.9   30  40   1.0  2.6   989   0.0   0  0
        10-19   7.4  13.2   8.1   75  85   1.9  3.7   984   0.9  16  3
        10-20   8.8  12.1   8.7   95  95   2.9  5.1   976   6.1   2  9
        10-21   7.0  11.6   6.5   70  65   2.7  5.4   979   1.4  12  3
        10-22   5.8  11.9   5.4   50  55   2.0  4.2   984   0.0   0  0
        10-23   4.9  12.3   5.2   35  40   1.3  3.0   988   0.0   0  0
        10-24   4.3  12.6   5.6   25  45   0.9  2.4   990   0.0   0  0
        10-25   5.7  11.8   6.6   65  80   1.4  2.9   987   0.3  14  1
        10-26   7.3  11.2   7.8   90  95   2.1  3.6   982   2.8   8  5
        10-27   7.6  11.7   7.4   85  70   2.3  4.1   981   0.7   3  2
        10-28   6.1  12.4   6.6   55  50   1.5  3.3   985   0.0   0  0
        10-29   5.2  12.9   6.2   35  40   1.1  2.5   988   0.0   0  0
        10-30   5.9  12.2   6.9   60  70   1.3  2.8   986   0.0   0  0
        10-31   7.5  11.4   7.9   90  95   2.2  3.9   980   3.9   5  6
        11-01   6.8  10.7   6.4   75  75   2.6  4.7   979   1.1  11  3
        11-02   5.4  10.3   5.3   60  65   2.1  4.4   982   0.0   0  0
        11-03   5.9   9.8   6.2   85  95   2.4  4.3   980   2.2   9  5
        11-04   4.6   8.3   1.6   80  45   3.4  6.2   983   1.6   1  4
        11-05   1.4   7.0  -3.0   20   5   1.6  2.8   994   0.0   0  0
        11-06  -1.6   8.0  -3.8    0  10   0.6  2.1   996   0.0   0  0
        11-07   1.1   9.3   2.4   55  65   1.1  2.4   992   0.0   0  0
        11-08   4.2  10.2   5.6   85  90   1.9  3.5   986   0.8  17  3
        11-09   6.3  10.9   7.1   95  90   2.6  4.4   981   1.9   6  5
        11-10   6.9  11.3   7.0   80  75   2.3  4.0   983   0.4  10  1
        11-11   5.8  11.6   6.3   60  65   1.7  3.2   986   0.0   0  0
        11-12   5.5  11.1   6.1   65  75   1.6  3.0   986   0.0   0  0
    """,
)

DRY_WEEK = Episode(
    file="dry-week.json",
    issued_at=datetime(2027, 6, 7, 5, tzinfo=UTC),
    coolest_at_h=4.0,
    days="""
        05-08   6.1  15.3   6.4   40  55   1.1  3.4   987   0.0   0  0
        05-09   7.4  14.2   7.8   75  85   1.8  3.9   983   2.4  11  4
        05-10   7.9  13.6   7.9   85  80   2.3  4.8   981   3.1   5  6
        05-11   6.2  14.9   6.1   50  55   1.6  4.2   985   0.4  15  1
        05-12   5.3  16.8   6.3   20  35   0.9  3.0   989   0.0   0  0
        05-13   6.4  18.7   7.5   10  30   0.8  2.8   990   0.0   0  0
        05-14   8.2  20.1   9.3   20  45   1.0  3.3   987   0.0   0  0
        05-15   9.7  19.2  10.8   55  75   1.5  4.0   982   3.8  15  3
        05-16   9.4  15.8   9.6   85  85   2.2  4.7   980   2.6   8  5
        05-17   7.8  15.4   7.4   65  60   1.9  4.5   983   0.6  13  2
        05-18   6.5  16.9   7.0   40  50   1.2  3.6   987   0.0   0  0
        05-19   7.1  18.4   8.1   30  45   1.0  3.1   988   0.0   0  0
        05-20   8.3  19.6   9.2   35  50   1.1  3.2   987   0.0   0  0
        05-21   9.5  20.8  10.6   40  60   1.2  3.5   985   0.0   0  0
        05-22  10.8  19.3  11.7   70  85   1.7  3.8   981   5.2  13  5
        05-23  10.2  17.1  10.3   85  80   2.1  4.4   980   1.7   6  4
        05-24   8.6  17.6   8.7   55  55   1.5  4.0   984   0.0   0  0
        05-25   7.9  19.0   8.8   25  40   1.0  3.2   987   0.0   0  0
        05-26   8.8  20.7   9.9   20  40   0.9  2.9   988   0.0   0  0
        05-27  10.1  21.9  11.4   30  55   1.1  3.3   985   0.0   0  0
        05-28  11.7  20.4  12.6   65  80   1.6  3.7   982   4.4  14  4
        05-29  11.2  18.3  11.3   80  75   2.0  4.3   981   1.2   7  3
        05-30   9.6  18.8   9.8   50  55   1.4  3.8   984   0.0   0  0
        05-31   8.9  20.3   9.9   30  45   1.0  3.1   986   0.0   0  0
        06-01   9.8  21.6  11.0   25  45   1.0  3.0   986   0.0   0  0
        06-02  11.3  21.1  12.2   50  70   1.3  3.4   983   2.1  16  3
        06-03  11.6  18.9  11.6   80  80   1.9  4.1   981   2.9   5  6
        06-04   9.9  19.4  10.0   50  50   1.5  3.9   985   0.0   0  0
        06-05   9.2  21.2  10.1   25  35   1.0  3.1   989   0.0   0  0
        06-06  10.0  23.4  10.4   15  20   0.9  2.8   991   0.0   0  0
        06-07  11.4  26.1  10.2    5  10   0.8  2.9   992   0.0   0  0
        06-08  13.0  28.7  10.0    5   5   0.9  3.6   991   0.0   0  0
        06-09  14.8  31.6  10.2    0   5   1.3  6.3   988   0.0   0  0
        06-10  16.9  33.8  10.6    0   5   1.6  7.3   985   0.0   0  0
        06-11  18.2  32.3   9.0    5  10   1.8  6.8   985   0.0   0  0
        06-12  16.6  30.2   8.2    5  15   1.4  4.6   986   0.0   0  0
        06-13  15.1  24.2   9.6   40  60   1.8  4.8   988   0.0   0  0
        06-14  11.9  22.8   9.4   35  45   1.4  3.8   990   0.0   0  0
    """,
)

EPISODES = (COLD_NIGHT, DRY_WEEK)


def sin_sun_elevation(times_s: Hours) -> Hours:
    """
    Sine of the sun's elevation at the demo's garden, negative at night. [-]

    times_s: moments since 1970-01-01 00:00 UTC. [s]

    Source: Spencer 1971, Fourier series representation of the position of the sun (declination, equation of time).
    """
    day = times_s / 86400.0
    # The series counts the angle from 1 January; 1970 + 365.25 d per year keeps it within a day, ample for a demo.
    angle = 2.0 * np.pi * (day % 365.25) / 365.25
    declination = (
        0.006918
        - 0.399912 * np.cos(angle)
        + 0.070257 * np.sin(angle)
        - 0.006758 * np.cos(2.0 * angle)
        + 0.000907 * np.sin(2.0 * angle)
        - 0.002697 * np.cos(3.0 * angle)
        + 0.00148 * np.sin(3.0 * angle)
    )
    equation_of_time = (
        0.000075
        + 0.001868 * np.cos(angle)
        - 0.032077 * np.sin(angle)
        - 0.014615 * np.cos(2.0 * angle)
        - 0.040849 * np.sin(2.0 * angle)
    )
    hour_angle = 2.0 * np.pi * (day % 1.0 - 0.5) + np.deg2rad(LONGITUDE) + equation_of_time
    latitude = np.deg2rad(LATITUDE)
    return np.asarray(
        np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    )


def radiation(times_s: Hours, cloud: Hours) -> tuple[Hours, Hours, Hours]:
    """
    Global, direct normal and diffuse radiation, means of the hour that ends at each time. [W m⁻²]

    times_s: whole hours since 1970-01-01 00:00 UTC. [s]
    cloud: cover of that hour. [0-1]

    Sources: Haurwitz 1945 (global, clear sky); Meinel & Meinel 1976 (beam, clear sky); Kasten & Czeplak 1980 (cloud).
    Beam falls in proportion to the sky that is open; what is left of the global radiation is diffuse.
    """
    middles_s = times_s[:, None] - 3600.0 + (np.arange(12) + 0.5) * 300.0
    sine = np.maximum(sin_sun_elevation(middles_s), 0.0)
    up = sine > 0.0
    safe = np.where(up, sine, 1.0)
    clear_global = np.where(up, 1098.0 * safe * np.exp(-0.057 / safe), 0.0)
    clear_beam = np.where(up, 1353.0 * 0.7 ** (safe**-0.678), 0.0)
    all_global = clear_global * (1.0 - 0.75 * cloud[:, None] ** 3.4)
    beam = clear_beam * (1.0 - cloud[:, None])
    diffuse = all_global - beam * sine
    return all_global.mean(axis=1), beam.mean(axis=1), diffuse.mean(axis=1)


def air_temperature(hour: Hours, low_c: Hours, high_c: Hours, coolest_at_h: float) -> Hours:
    """
    Air temperature through each day's low and high, quick to fall after the afternoon and slow before dawn. [°C]

    hour: since midnight UTC of the first day. [h]
    low_c, high_c: of each day. [°C]
    coolest_at_h: hour of the day of the low. [h]
    """
    day_count = len(low_c)
    starts = np.arange(-1, day_count + 1) * float(HOURS_A_DAY)
    low = np.concatenate([low_c[:1], low_c, low_c[-1:]])
    high = np.concatenate([high_c[:1], high_c, high_c[-1:]])
    turn_h = np.stack([starts + coolest_at_h, starts + WARMEST_AT_H], axis=1).ravel()
    turn_c = np.stack([low, high], axis=1).ravel()
    before = np.searchsorted(turn_h, hour, side="right") - 1
    share = (hour - turn_h[before]) / (turn_h[before + 1] - turn_h[before])
    falling = turn_c[before + 1] < turn_c[before]
    # A clear evening cools fastest around sunset: the falling branch runs ahead of the rising one.
    course = np.sin(0.5 * np.pi * np.where(falling, share**0.6, share)) ** 2
    return np.asarray(turn_c[before] + course * (turn_c[before + 1] - turn_c[before]))


def relative_humidity(air_c: Hours, dew_c: Hours) -> Hours:
    """
    Relative humidity over water. [%]

    air_c, dew_c: air temperature and dew point. [°C]

    Source: Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 11.
    """
    return 100.0 * np.exp(17.27 * dew_c / (dew_c + 237.3) - 17.27 * air_c / (air_c + 237.3))


def rain_hours(hour: Hours, rain_mm: Hours, begins_h: Hours, lasts_h: Hours) -> Hours:
    """
    Rain of the hour that ends at each time, most in the middle of its spell. [mm]

    hour: since midnight UTC of the first day. [h]
    rain_mm, begins_h, lasts_h: each day's sum [mm], hour at which it begins and number of hours [h].
    """
    rain = np.zeros_like(hour)
    for day in np.flatnonzero(rain_mm):
        count = int(lasts_h[day])
        weight = np.sin(np.pi * (np.arange(count) + 0.5) / count)
        first = int(day * HOURS_A_DAY + begins_h[day]) + 1
        rain[first : first + count] = rain_mm[day] * weight / weight.sum()
    return rain


def soil_temperature(air_c: Hours, global_wm2: Hours) -> Hours:
    """
    Soil temperature at 6 cm: the air and the sun, smoothed over about a day. [°C]

    air_c: air temperature [°C]; global_wm2: global radiation [W m⁻²]. Made up for the demo, after no source.
    """
    drive = air_c + 0.006 * global_wm2
    soil = np.empty_like(drive)
    soil[0] = drive[:HOURS_A_DAY].mean()
    for step in range(1, len(drive)):
        soil[step] = soil[step - 1] + (drive[step] - soil[step - 1]) / 20.0
    return soil


def hourly(episode: Episode) -> dict[str, Hours]:
    """Every hourly variable of the episode, by its name in the Open-Meteo API and in the unit that UNITS gives."""
    rows = [line.split() for line in episode.days.strip().splitlines()]
    table = np.array([row[1:] for row in rows], dtype=np.float64).T
    low_c, high_c, dew_c, cloud_night, cloud_day, wind_night, wind_day, pressure, rain_mm, begins_h, lasts_h = table
    hour = np.arange(len(rows) * HOURS_A_DAY, dtype=np.float64)
    midnight = np.arange(len(rows)) * float(HOURS_A_DAY)
    times_s = hour * 3600.0 + first_midnight(episode).timestamp()

    rain = np.round(rain_hours(hour, rain_mm, begins_h, lasts_h), 1)
    anchors_h = np.stack([midnight + at for at in CLOUD_ANCHORS_H], axis=1).ravel()
    cloud_percent = np.interp(hour, anchors_h, np.stack([cloud_night, cloud_day], axis=1).ravel())
    cloud_percent = np.round(np.where(rain > 0.0, np.maximum(cloud_percent, 92.0), cloud_percent))
    global_wm2, beam_wm2, diffuse_wm2 = radiation(times_s, cloud_percent / 100.0)

    air = np.round(air_temperature(hour, low_c, high_c, episode.coolest_at_h), 1)
    dew = np.interp(hour, midnight + 12.0, dew_c)
    dew = np.where(rain > 0.0, np.maximum(dew, air - 1.2), dew)
    dew = np.minimum(np.round(dew, 1), air - 0.3)

    # Sun stirs the air down to the ground about an hour late; without it the night wind is left.
    stirring = np.clip(sin_sun_elevation(times_s - 5400.0) * 2.2, 0.0, 1.0)
    calm = np.interp(hour, midnight + 3.0, wind_night)
    breeze = np.interp(hour, midnight + WARMEST_AT_H, wind_day)
    wind = calm + (breeze - calm) * stirring
    windiest = np.maximum(wind, np.concatenate([wind[:1], wind[:-1]]))
    gust = windiest * (1.5 + 0.45 * stirring) + 0.4

    return {
        "time": times_s,
        "temperature_2m": air,
        "relative_humidity_2m": relative_humidity(air, dew),
        "dew_point_2m": dew,
        "wind_speed_10m": wind,
        "wind_gusts_10m": gust,
        "shortwave_radiation": global_wm2,
        "direct_normal_irradiance": beam_wm2,
        "diffuse_radiation": diffuse_wm2,
        "cloud_cover": cloud_percent,
        "precipitation": rain,
        "rain": rain,
        "snowfall": np.zeros_like(hour),
        "snow_depth": np.zeros_like(hour),
        "surface_pressure": np.interp(hour, midnight + 12.0, pressure),
        "soil_temperature_6cm": soil_temperature(air, global_wm2),
    }


def first_midnight(episode: Episode) -> datetime:
    """Midnight UTC of the episode's first day; raises ValueError when its table does not begin 30 days before."""
    start = episode.issued_at.replace(hour=0) - timedelta(days=30)
    first = episode.days.split(maxsplit=1)[0]
    if first != f"{start:%m-%d}":
        raise ValueError(f"{episode.file}: the table begins on {first}, 30 days before the issue is {start:%m-%d}")
    return start


def file_text(episode: Episode) -> str:
    """The JSON text of the episode's file, one line of values a day, so that a person can read and compare it."""
    values = hourly(episode)
    issued_s = int(episode.issued_at.timestamp())
    now = int(np.flatnonzero(values["time"] == issued_s)[0])
    head: Mapping[str, object] = {
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "generationtime_ms": 0,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": ELEVATION_M,
        "current_units": {"time": "unixtime", "interval": "seconds", "temperature_2m": "°C"},
        "current": {"time": issued_s, "interval": 900, "temperature_2m": float(values["temperature_2m"][now])},
        "hourly_units": UNITS,
    }
    lines = [f"  {json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}," for key, value in head.items()]
    blocks = []
    for name, series in values.items():
        # Adding zero turns a rounded -0.0 into 0.0.
        numbers = [int(v) for v in np.round(series)] if name in WHOLE_NUMBERS else (np.round(series, 1) + 0.0).tolist()
        days = [numbers[first : first + HOURS_A_DAY] for first in range(0, len(numbers), HOURS_A_DAY)]
        rows = ",\n".join("      " + json.dumps(day)[1:-1] for day in days)
        blocks.append(f"    {json.dumps(name)}: [\n{rows}\n    ]")
    return "{\n" + "\n".join(lines) + '\n  "hourly": {\n' + ",\n".join(blocks) + "\n  }\n}\n"


def main() -> None:
    """Writes both episodes into the folder of this module."""
    folder = Path(__file__).parent
    for episode in EPISODES:
        (folder / episode.file).write_text(file_text(episode), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
