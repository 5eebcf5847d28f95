"""The second weather service of a story: the same weather in Locationforecast's form, hourly and then six-hourly."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import numpy as np

from tests.edges.invented_norway import UNITS, Answer, encoded
from tests.stories.weather import Course

# What the service gives by the hour, and how many steps of six hours follow (its data model).
HOURLY_H, STEP_H, STEPS = 56, 6, 20
# A model run is published some hours after its start.
OLD = timedelta(hours=3)
# By its names: instants and the first service's, in the same units.
INSTANTS = {
    "air_temperature": "temperature_2m",
    "dew_point_temperature": "dew_point_2m",
    "wind_speed": "wind_speed_10m",
    "cloud_area_fraction": "cloud_cover",
}


def locationforecast(course: Course, at: datetime) -> Answer:
    """What it says from the full hour on, as far as the course goes. at: aware."""
    first = int(np.searchsorted(course.times, np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "h")))
    hours = list(range(first, min(first + HOURLY_H, course.times.size - 1)))
    long = [hours[-1] + 1 + STEP_H * step for step in range(STEPS)]
    stamps = hours + [hour for hour in long if hour + STEP_H < course.times.size]
    series = [_entry(course, hour, STEP_H if number >= len(hours) else 1) for number, hour in enumerate(stamps)]
    meta = {"updated_at": (at - OLD).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"), "units": UNITS}
    spot = course.spot
    place = {"type": "Point", "coordinates": [spot.longitude, spot.latitude, spot.elevation_m]}
    return {"type": "Feature", "geometry": place, "properties": {"meta": meta, "timeseries": series}}


def answer_of(course: Course, at: datetime) -> tuple[int, dict[str, str], bytes]:
    """Status, headers and body of the service."""
    moments = {"Date": at, "Expires": at + timedelta(minutes=30), "Last-Modified": at.replace(minute=0)}
    headers = {name: format_datetime(moment.astimezone(UTC), usegmt=True) for name, moment in moments.items()}
    return 200, headers, encoded(locationforecast(course, at))


def _entry(course: Course, hour: int, lasts_h: int) -> Answer:
    """An instant and what falls in the hours after it."""
    told: Mapping[str, np.ndarray] = course.hourly
    details = {name: round(float(told[ours][hour]), 1) for name, ours in INSTANTS.items()}
    after = slice(hour + 1, hour + 1 + lasts_h)
    wet = {"precipitation_amount": round(float(told["rain"][after].sum()), 2)}
    rainy = "rain" if wet["precipitation_amount"] else "fair_day"
    data: Answer = {"instant": {"details": details}}
    if lasts_h == 1:
        data["next_1_hours"] = {"summary": {"symbol_code": rainy}, "details": wet}
    air = told["temperature_2m"][hour : hour + STEP_H + 1]
    ends = {"air_temperature_min": round(float(air.min()), 1), "air_temperature_max": round(float(air.max()), 1)}
    if lasts_h == STEP_H:
        data["next_6_hours"] = {"summary": {"symbol_code": rainy}, "details": {**ends, **wet}}
    stamp = course.times[hour].astype("datetime64[s]").item()
    return {"time": stamp.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data}
