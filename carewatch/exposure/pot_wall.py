"""What the outside of a pot is exposed to: one boundary temperature and conductance for its outermost shell."""

from dataclasses import dataclass

import numpy as np

from carewatch.exposure.columns import Columns, Traits
from carewatch.exposure.surroundings import Surroundings
from carewatch.forecast.weather import Array
from carewatch.physics.ground import SNOW_CONDUCTIVITY
from carewatch.physics.radiation import blackbody_wm2
from carewatch.physics.root_ball import BallShape, outer_path_m

# Convection on walls of pot size, free and forced (order of Monteith & Unsworth 2013, ch. 10, cylinder of 20 cm). [W
# m⁻² K⁻¹]
CALM_CONVECTION = 3.5
WIND_CONVECTION = 5.0
EMISSIVITY = 0.95
# Soil of 1 W m⁻¹ K⁻¹ over the 10 cm down to the depth of soil_c, less what turf and feet keep away under a standing
# pot; around a sunk one the soil at its own depth is nearer (judged on both). [W m⁻² K⁻¹]
GROUND_CONTACT = 7.0
SUNK_CONTACT = 12.0
# Dry mineral or bark surfaces absorb about four fifths of the sun (Oke 1987, table 1.1). [-]
TOP_ABSORPTIVITY = 0.8
# A full crown shades its own pot: half of the wall's and two thirds of the top's sunlight (judged). [-]
WALL_SHADE = 0.5
TOP_SHADE = 0.67
# Pots stand beside each other and under their own rim: a quarter of a wall's light is lost to them (judged; without it
# black pots at 34 °C come out beyond the 45-55 °C measured on their sunny sides, Mathers 2003, from memory). [-]
NEIGHBOURS = 0.75
# The top of a pot that is watered daily evaporates four fifths of the reference rate (FAO-56 eq. 72 ff.: a wetted
# surface up to 1.0-1.2 of it, falling as it dries within a day or two; rounded). [-]
TOP_MOISTURE = 0.8
# A millimetre an hour carries off 2.45 MJ m⁻² (FAO-56). [W m⁻² per mm h⁻¹]
LATENT_WM2_PER_MM = 680.0
# A pot higher than this above the floor has air under its base. [m]
STANDING_HEIGHT_M = 0.05


@dataclass(frozen=True)
class WallExchange:
    """
    Boundary of the outermost shell, arrays (hour, member, column).

    conductance_w_k: [W K⁻¹]; surround_c: [°C]; sun_side_k: by how much the sunlit quarter is warmer than the mean. [K]
    top_c, top_wm2k: sol-air temperature of the substrate's surface, and the conductance of the film on it. [°C],
    [W m⁻² K⁻¹]
    """

    conductance_w_k: Array
    surround_c: Array
    sun_side_k: Array
    top_c: Array
    top_wm2k: Array


def wall_exchange(
    around: Surroundings,
    columns: Columns,
    traits: Traits,
    shape: BallShape,
    place_height_m: Array,
    reference_mm: Array,
) -> WallExchange:
    """
    Boundary of every column's root ball.

    Each face is a film in series with wall and half the outermost shell; faces act in parallel. Sun and longwave enter
    as a sol-air temperature; a moist top is cooled by what it evaporates. place_height_m: of the base above the floor,
    (hour, column). [m]; reference_mm: reference evapotranspiration at the column. [mm h⁻¹]
    """
    air = around.pot_air_c
    emitted = EMISSIVITY * blackbody_wm2(air)
    radiative = 4.0 * emitted / (air + 273.15)
    film = CALM_CONVECTION + WIND_CONVECTION * np.sqrt(np.maximum(around.pot_wind_ms, 0.0)) + radiative
    wall_film = bare_film = film * columns.wall_exchange[:, None, :]
    top_film = wall_film * columns.top_exchange[:, None, :]
    conductivity = 0.5 * (traits.conductivity_dry + traits.conductivity_wet)
    inward = 1.0 / (outer_path_m(shape) / conductivity + 1.0 / traits.wall_w_m2k)
    top_inward = conductivity / outer_path_m(shape)

    sine = np.clip(around.sun_sine, 0.0, 1.0)
    cosine = np.sqrt(1.0 - sine**2)
    wall_light = NEIGHBOURS * (1.0 - WALL_SHADE * np.minimum(traits.leaf_area, 1.0)) * columns.wall_sun[:, None, :]
    facing = traits.absorptance * wall_light * around.beam_wm2 * cosine
    ambient = traits.absorptance * wall_light * 0.5 * (around.diffuse_wm2 + around.reflected_wm2)
    # A wall sees the sky near the horizon, which is half as much colder than the air as the whole sky is (Unsworth &
    # Monteith 1975: sky radiance rises towards the horizon; the half is rounded).
    low_sky = 0.5 * (EMISSIVITY * around.pot_down_wm2 + emitted)
    wall_longwave = 0.5 * low_sky + 0.5 * EMISSIVITY * around.pot_up_wm2 - emitted
    wall_sol_air = air + (facing / np.pi + ambient + wall_longwave) / film
    top_light = 1.0 - TOP_SHADE * np.minimum(traits.leaf_area, 1.0)
    top_sun = TOP_ABSORPTIVITY * top_light * (around.beam_wm2 * sine + around.diffuse_wm2)
    cooled = TOP_MOISTURE * np.maximum(reference_mm, 0.0) * LATENT_WM2_PER_MM
    top_sol_air = air + (top_sun + EMISSIVITY * around.pot_down_wm2 - emitted - cooled) / film

    in_ground = columns.in_ground[:, None, :]
    if np.count_nonzero(around.snow_depth_m):
        wall_film, wall_sol_air, top_film, top_sol_air, facing = _under_snow(
            around, traits, place_height_m, (wall_film, wall_sol_air, top_film, top_sol_air, facing)
        )
    touching = np.maximum(columns.on_ground, place_height_m < STANDING_HEIGHT_M)[:, None, :]
    wall_h = (1.0 - in_ground) * wall_film + in_ground * SUNK_CONTACT
    wall_c = (1.0 - in_ground) * wall_sol_air + in_ground * around.soil_c
    base_h = (1.0 - touching) * bare_film + touching * GROUND_CONTACT
    base_c = (1.0 - touching) * air + touching * around.soil_c
    through_wall = traits.wall_m2 * wall_h * inward / (wall_h + inward)
    through_base = traits.base_m2 * base_h * inward / (base_h + inward)
    through_top = traits.top_m2 * top_film * top_inward / (top_film + top_inward)
    total = through_wall + through_base + through_top
    mixed = (through_wall * wall_c + through_base * base_c + through_top * top_sol_air) / total
    # The quarter that faces the sun takes nine tenths of the facing beam instead of 1/π of it; what that adds to the
    # wall reaches the middle of the outermost shell less the drop across wall and half shell.
    sun_side = (1.0 - in_ground) * facing * (0.9 - 1.0 / np.pi) / (wall_film + inward) * inward / (inward + wall_film)
    return WallExchange(total, mixed, sun_side, top_sol_air, top_film)


def _under_snow(
    around: Surroundings, traits: Traits, place_height_m: Array, outside: tuple[Array, Array, Array, Array, Array]
) -> tuple[Array, Array, Array, Array, Array]:
    """
    Films and temperatures of wall and top, and the sun on the wall, as far as lying snow buries the pot.

    outside: the same five without snow. place_height_m: of the base above the floor, (hour, column). [m]

    Buried wall gives its heat up through the snow above its middle to the snow's surface, and down through the snow
    below it to the soil; both in series of films and layers, side by side. Snow on the top is one more layer. Snow does
    not melt at the pot here: what the wall gives it is carried on to both ends.
    """
    wall_film, wall_sol_air, top_film, top_sol_air, facing = outside
    base = np.maximum(place_height_m, 0.0)[:, None, :]
    over_base = np.maximum(around.snow_depth_m - base, 0.0)
    buried = np.minimum(over_base / traits.depth_m, 1.0)
    middle = base + 0.5 * buried * traits.depth_m
    up = 1.0 / (np.maximum(around.snow_depth_m - middle, 0.0) / SNOW_CONDUCTIVITY + 1.0 / wall_film)
    down = 1.0 / (np.maximum(middle, 0.01) / SNOW_CONDUCTIVITY + 1.0 / GROUND_CONTACT)
    inside_h = up + down
    inside_c = (up * around.skin_c + down * around.soil_c) / inside_h
    film = (1.0 - buried) * wall_film + buried * inside_h
    mixed_c = ((1.0 - buried) * wall_film * wall_sol_air + buried * inside_h * inside_c) / film
    above = np.maximum(around.snow_depth_m - base - traits.depth_m, 0.0)
    top_h = 1.0 / (above / SNOW_CONDUCTIVITY + 1.0 / np.maximum(top_film, 1e-6))
    covered = above > 0.0
    top_c = np.where(covered, around.skin_c, top_sol_air)
    return film, mixed_c, np.where(covered, top_h, top_film), top_c, facing * (1.0 - buried)
