"""Every chapter of reference checks, in the order of the report."""

from tests.reference import (
    checks_evaporation,
    checks_humidity,
    checks_radiation,
    checks_refet,
    checks_sun,
    checks_thermal,
    checks_wind,
)
from tests.reference.registry import Chapter

CHAPTERS: tuple[Chapter, ...] = (
    checks_sun.CHAPTER,
    checks_humidity.CHAPTER,
    checks_radiation.CHAPTER,
    checks_evaporation.CHAPTER,
    checks_refet.CHAPTER,
    checks_wind.CHAPTER,
    checks_thermal.CHAPTER,
)
