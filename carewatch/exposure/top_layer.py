"""The uppermost two centimetres of the substrate: how much of their water is ice, hour by hour."""

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Traits
from carewatch.exposure.march import HOUR_S, March
from carewatch.forecast.weather import Array
from carewatch.physics.root_ball import FUSION, ICE_HEAT, WATER_HEAT

# The layer whose ice lifts a tree (frost heaving starts at the surface: Goulet 1995). [m]
LAYER_M = 0.02
# A tree that is held firmer than this is not lifted; of others the layer is not worked out. Above the bound that
# hazards.toml gives for heaving. [0-1]
FIRM_HOLD = 0.5


def loose(traits: Traits) -> NDArray[np.int64]:
    """Positions of the columns whose roots hold so little that ice could lift them."""
    found: NDArray[np.int64] = np.nonzero(traits.held < FIRM_HOLD)[0]
    return found


def top_ice(surface_c: Array, surface_wm2k: Array, roots: March, traits: Traits, index: NDArray[np.int64]) -> Array:
    """
    Share of the layer's water that is ice, (hour, member, len(index)). [0-1]

    surface_c, surface_wm2k: sol-air temperature of the surface and the conductance of its film, of those columns. [°C],
    [W m⁻² K⁻¹]. roots: of all columns; index: from `loose`.

    One layer by enthalpy over the ball's mean, which does not feel it (the ball has its own boundary at the same
    surface); an implicit hour of one piecewise straight line has one solution, frozen, freezing or thawed.
    """
    ball_c = roots.shells_c[..., index].mean(axis=1)
    water = (traits.capacity * (1.0 - traits.available * (1.0 - roots.water_left)))[..., index]
    dry, wet = traits.conductivity_dry[index], traits.conductivity_wet[index]
    conductivity = dry + (wet - dry) * np.minimum(water / traits.capacity[index], 1.0)
    solids = LAYER_M * (1.0 - traits.porosity[index]) * traits.solid_heat_mj[index] * 1e6
    liquid, frozen = solids + LAYER_M * water * WATER_HEAT, solids + LAYER_M * water * ICE_HEAT
    latent = LAYER_M * water * FUSION
    middle = LAYER_M / 2.0
    above = HOUR_S / (1.0 / surface_wm2k + middle / conductivity)
    below = HOUR_S * conductivity / (middle + traits.depth_m[index] / 4.0)
    first = roots.shells_c[0, -1][..., index]
    held = np.where(first >= 0.0, first * liquid[0], first * frozen[0] - latent[0])
    ice = np.empty_like(water)
    for hour in range(water.shape[0]):
        both = above[hour] + below[hour]
        gains = held + above[hour] * surface_c[hour] + below[hour] * ball_c[hour]
        warm, cold = gains / (liquid[hour] + both), (gains + latent[hour]) / (frozen[hour] + both)
        held = np.where(
            gains >= 0.0,
            warm * liquid[hour],
            np.where(cold <= 0.0, cold * frozen[hour] - latent[hour], gains),
        )
        ice[hour] = np.clip(-held / latent[hour], 0.0, 1.0)
    return ice
