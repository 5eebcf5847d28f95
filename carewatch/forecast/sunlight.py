"""Global, direct and diffuse radiation made whole: what a source gives is kept, what it lacks follows from the rest."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.forecast.weather import Array
from carewatch.physics.sun import (
    BEAM_LOWEST_ELEVATION_DEG,
    SunHours,
    clear_sky_global_wm2,
    clearest_beam_wm2,
    cloud_transmission,
    split_beam_diffuse,
)

# Below this a source's direct normal radiation is a small remainder over a small sine; it is held under what the
# cleanest air lets through. Judged. [°]
LOW_SUN_DEG = 10.0
FROM_CLOUD = "from clear sky and cloud (Kasten & Czeplak 1980)"
FROM_PARTS = "from direct and diffuse radiation"
FROM_GLOBAL = "from global radiation (Erbs et al. 1982)"
FROM_REST = "from global radiation and the other part"


@dataclass(frozen=True)
class Sunlight:
    """
    Radiation of each hour, complete, (hour,). [W m⁻²]

    how: per variable that was estimated in some hours, from what.
    """

    global_wm2: Array
    direct_normal_wm2: Array
    diffuse_wm2: Array
    how: Mapping[str, str]


def complete_sunlight(
    global_wm2: Array, direct_normal_wm2: Array, diffuse_wm2: Array, mean_cloud: Array, sun: SunHours
) -> Sunlight:
    """
    The three radiations without holes.

    global_wm2, direct_normal_wm2, diffuse_wm2: as given, NaN where not, (hour,). [W m⁻²]
    mean_cloud: mean cover of the hour, complete. [0-1]; sun: of the same hours.

    Direct and diffuse that are given are taken at their word, but for a direct radiation at low sun that no air lets
    through. Two of the three give the third, as global = direct sin(elevation) + diffuse; global alone is divided; with
    none of them, a clear sky is dimmed by the cloud and divided.
    """
    sine = np.sin(np.radians(np.maximum(sun.elevation_deg, 0.0)))
    sunshine = sun.extraterrestrial_normal_wm2
    ceiling = clearest_beam_wm2(sun.elevation_deg, sunshine)
    direct = np.where(sun.elevation_deg < LOW_SUN_DEG, np.minimum(direct_normal_wm2, ceiling), direct_normal_wm2)
    knows_global, knows_direct = np.isfinite(global_wm2), np.isfinite(direct)
    knows_diffuse = np.isfinite(diffuse_wm2)
    dimmed = clear_sky_global_wm2(sun.elevation_deg, sunshine) * cloud_transmission(mean_cloud)
    both = knows_direct & knows_diffuse
    whole = np.where(knows_global, global_wm2, np.where(both, direct * sine + diffuse_wm2, dimmed))
    split_direct, split_diffuse = split_beam_diffuse(np.maximum(whole, 0.0), sun.elevation_deg, sunshine)
    high = sun.elevation_deg >= BEAM_LOWEST_ELEVATION_DEG
    rest = np.maximum(whole - diffuse_wm2, 0.0) / np.where(high, sine, 1.0)
    of_diffuse = np.where(high, np.minimum(rest, ceiling), 0.0)
    of_direct = np.maximum(whole - direct * sine, 0.0)
    how = {
        "global_wm2": _named(~knows_global, both, FROM_PARTS, FROM_CLOUD),
        "direct_normal_wm2": _named(~knows_direct, knows_diffuse, FROM_REST, FROM_GLOBAL),
        "diffuse_wm2": _named(~knows_diffuse, knows_direct, FROM_REST, FROM_GLOBAL),
    }
    return Sunlight(
        global_wm2=whole,
        direct_normal_wm2=np.where(knows_direct, direct, np.where(knows_diffuse, of_diffuse, split_direct)),
        diffuse_wm2=np.where(knows_diffuse, diffuse_wm2, np.where(knows_direct, of_direct, split_diffuse)),
        how=how,
    )


def divided_members(
    ahead: Mapping[str, Array], given: Mapping[str, Array], single: Mapping[str, Array], sun: SunHours
) -> dict[str, Array]:
    """
    Members that come with a global radiation of their own, its parts divided where they do not come with those.

    ahead: complete variables, (hour, member); given: what came per member, NaN in holes.
    single: the run that filled the holes, (hour,); a hole keeps its parts. sun: of the hours.
    """
    changed = dict(ahead)
    own = np.isfinite(given["global_wm2"][:, : ahead["global_wm2"].shape[1]])
    parts = split_beam_diffuse(
        ahead["global_wm2"], sun.elevation_deg[:, None], sun.extraterrestrial_normal_wm2[:, None]
    )
    for name, part in zip(("direct_normal_wm2", "diffuse_wm2"), parts, strict=True):
        if name not in given:
            changed[name] = np.where(own, part, single[name][:, None])
    return changed


def _named(missing: NDArray[np.bool_], nearer: NDArray[np.bool_], near: str, far: str) -> str:
    """How the missing hours were estimated: `near` where that could be, `far` elsewhere."""
    if not missing.any() or (nearer | ~missing).all():
        return near
    return far if not (nearer & missing).any() else f"{near}, else {far}"
