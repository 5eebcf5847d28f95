"""What a tree can stand of what shelter does to it, and of what lies on its crown."""

from carewatch.care.species import Doses
from carewatch.condition.dark_carried import RESTING
from carewatch.condition.now import Condition
from carewatch.limits.doses import HazardNumbers

NEVER: Doses = (float("inf"), float("inf"))
# Works whose branches snow bends at their weakest, for so many days (judged: until they hold by themselves).
WEAK_BRANCHES, WEAK_DAYS = ("wire", "bend", "graft"), 365


def in_shelter(condition: Condition, hazards: HazardNumbers) -> dict[str, float]:
    """
    One row of Tolerance.

    forces: share of a day's warmth that moves its buds. [0-1]; forced_kd: thermal time that they had; swell_kd,
    open_kd: at which they swell, and open. [°C d]
    rest, swell, open: frost that buds bear at rest, swelling, opening. [°C]; frost_to_come_c: as Condition. [°C]
    dark: days in the dark; dark_carried: behind it. [d]; damp: wet hours as at 20 °C. [h]
    """
    species, waking = condition.tree.species, condition.waking
    swell_kd, open_kd = species.bud_swell_gdd, species.leaf_out_gdd
    forced_kd = waking * swell_kd if waking < 1.0 else swell_kd + (waking - 1.0) * (open_kd - swell_kd)
    rest, swell, opens = _buds(condition)
    resting = condition.stage in RESTING
    leafy = condition.in_leaf and condition.stage != "colouring"
    dark = (hazards.dark_resting_d if resting else hazards.dark_leaf_d) if leafy else NEVER
    factor = hazards.damp_resting_factor if resting else 1.0
    damp = (hazards.damp_h[0] * factor, hazards.damp_h[1] * factor) if condition.in_leaf else NEVER
    return {
        "forces": condition.forces,
        "forced_kd": forced_kd,
        "swell_kd": max(swell_kd, 1e-3),
        "open_kd": max(open_kd, swell_kd + 1e-3),
        "rest_10": rest[0],
        "rest_50": rest[1],
        "swell_10": swell[0],
        "swell_50": swell[1],
        "open_10": opens[0],
        "open_50": opens[1],
        "frost_to_come_c": condition.frost_to_come_c,
        "dark_10": dark[0],
        "dark_50": dark[1],
        "dark_carried": condition.dark_d,
        "damp_10": damp[0],
        "damp_50": damp[1],
    }


def _buds(condition: Condition) -> tuple[Doses, Doses, Doses]:
    """Frost that buds bear at rest, swelling and opening; of evergreens' new tips swelling is half of the way. [°C]"""
    frost = condition.tree.species.frost_c
    if not condition.tree.species.evergreen:
        return frost["dormant"], frost["bud-swell"], frost["flush"]
    rest, opens = frost["winter-hard"], frost["new-tips"]
    return rest, (0.5 * (rest[0] + opens[0]), 0.5 * (rest[1] + opens[1])), opens


def under_load(condition: Condition, hazards: HazardNumbers) -> dict[str, float]:
    """load: snow, as water, and ice that the crown bears; soft leaf and set or grafted branches bear less. [mm]"""
    soft = condition.in_leaf and not condition.tree.species.evergreen
    weak = any(work.entry.work in WEAK_BRANCHES and work.days <= WEAK_DAYS for work in condition.opened)
    load = hazards.load_leaf_mm if soft or weak else hazards.load_firm_mm
    return {"load_10": load[0], "load_50": load[1]}
