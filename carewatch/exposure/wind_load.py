"""Wind on a crown: the ratio of what tips the pot to what holds it."""

import numpy as np

from carewatch.exposure.columns import Traits
from carewatch.forecast.weather import Array
from carewatch.physics.wind import drag_force_n, overturning_moment_nm, restoring_moment_nm

# Drag at 20 m/s over the still-air area: broadleaves 0.15-0.22 (Vollsinger et al. 2005), conifers 0.22-0.47 (Rudnicki
# et al. 2004); the upper ends. [-]
DRAG_BROADLEAF = 0.22
DRAG_NEEDLE = 0.40
# Leafy crowns bend so that drag grows about linearly with speed (Vollsinger et al. 2005; Vogel 1989). [-]
VOGEL = -0.8
DRAG_MEASURED_AT_MS = 20.0
# A pot of one litre of substrate weighs a tenth more than its content (common practice). [-]
POT_MASS = 1.1


def overturning_ratio(gust_ms: Array, traits: Traits, water: Array, topple: Array) -> Array:
    """
    Overturning over restoring moment of each column, hour by hour; above 1 the pot falls. [-]

    gust_ms: at mid-crown, (hour, member, column). [m s⁻¹]; water: volumetric in the pot, the same shape. [0-1]
    topple: factor of the measures, (hour, column). [-]
    """
    drag = np.where(traits.needle > 0.0, DRAG_NEEDLE, DRAG_BROADLEAF)
    force = drag_force_n(gust_ms, traits.frontal_m2, drag, VOGEL, DRAG_MEASURED_AT_MS)
    mass = traits.volume_m3 * (traits.density_dry + water * 1000.0) * POT_MASS
    tips = overturning_moment_nm(force, traits.mid_crown_m) * topple[:, None, :]
    return tips / restoring_moment_nm(mass, traits.half_base_m)
