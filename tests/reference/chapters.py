"""Every chapter of reference checks, in the order of the report."""

from tests.reference import (
    checks_chill,
    checks_conduction,
    checks_container,
    checks_decision,
    checks_evaporation,
    checks_humidity,
    checks_leaf,
    checks_radiation,
    checks_refet,
    checks_sun,
    checks_surfaces,
    checks_thermal,
    checks_wind,
)
from tests.reference.registry import Chapter

CHAPTERS: tuple[Chapter, ...] = (
    checks_sun.CHAPTER,
    checks_humidity.CHAPTER,
    checks_radiation.CHAPTER,
    checks_surfaces.CHAPTER,
    checks_evaporation.CHAPTER,
    checks_refet.CHAPTER,
    checks_container.CHAPTER,
    checks_wind.CHAPTER,
    checks_leaf.CHAPTER,
    checks_conduction.CHAPTER,
    checks_thermal.CHAPTER,
    checks_chill.CHAPTER,
    checks_decision.CHAPTER,
)
