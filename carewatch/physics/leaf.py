"""Energy balance of a small organ in the air: leaf, bud, needle. What it feels is not what the air is."""

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import saturation_vapour_pressure_kpa, slope_of_saturated_kpa_k
from carewatch.physics.radiation import STEFAN_BOLTZMANN

Array = NDArray[np.float64]

# Campbell & Norman 1998, table A.1 and text: molar heat capacity of air. [J mol⁻¹ K⁻¹]
MOLAR_HEAT = 29.3
# Latent heat of vaporisation near 15 °C and what freezing adds to it (2501 and 334 kJ/kg at 0.018 kg/mol). [J mol⁻¹]
LATENT_VAPOUR = 44_300.0
LATENT_FREEZING = 6_010.0
# Campbell & Norman 1998, section 11.3: emissivity of vegetation 0.94-0.98. [-]
EMISSIVITY = 0.97
# Campbell & Norman 1998, eq. 7.30 to 7.33 and the advice of section 7.9 to raise them by 1.4 in outdoor turbulence.
# One side of the organ, heat and vapour, with wind in m/s and dimension in m. [mol m⁻² s⁻¹]
FORCED_HEAT = 1.4 * 0.135
FORCED_VAPOUR = 1.4 * 0.147
# Campbell & Norman 1998, table 7.6: free convection of a plate, mean of the heated face up and down. [mol m⁻² s⁻¹]
FREE_HEAT = 0.04
# Even indoors the air moves a little; keeps the forced term finite. Judged. [m s⁻¹]
LEAST_WIND_MS = 0.05
# Leaf dimension is 0.72 of the width (Campbell & Norman 1998, table 14.1). [-]
DIMENSION_OF_WIDTH = 0.72
ITERATIONS = 4


def heat_conductance_mol(wind_ms: Array, dimension_m: Array, difference_k: Array) -> Array:
    """
    Conductance for heat of both faces of an organ together. [mol m⁻² s⁻¹]

    wind_ms: at the organ. [m s⁻¹]; dimension_m: along the wind. [m]; difference_k: organ minus air. [K]

    Forced and free convection are joined as the fourth root of the sum of fourth powers: there is no jump between them.
    Source: Campbell & Norman 1998, eq. 7.30 and table 7.6; joining after Churchill & Usagi 1972, whose exponent
    is 3 to 4 for mixed convection: 4 leaves the free part, a fourth root itself, without a root.
    """
    forced = FORCED_HEAT * FORCED_HEAT * np.maximum(wind_ms, LEAST_WIND_MS) / dimension_m
    return _heat_conductance_mol(_squared(forced), FREE_HEAT**4 / dimension_m, difference_k)


def boundary_vapour_mol(wind_ms: Array, dimension_m: Array) -> Array:
    """
    Boundary-layer conductance for vapour of one face. [mol m⁻² s⁻¹]

    wind_ms: at the organ. [m s⁻¹]; dimension_m: along the wind. [m]
    Source: Campbell & Norman 1998, eq. 7.33 with the outdoor factor 1.4.
    """
    return FORCED_VAPOUR * np.sqrt(np.maximum(wind_ms, LEAST_WIND_MS) / dimension_m)


def latent_heat_mol(temp_c: Array) -> Array:
    """
    Heat that a mole of vapour carries to or from the organ: of vaporisation, and with freezing below 0 °C. [J mol⁻¹]

    temp_c: of the organ. [°C]. The change is spread over one kelvin below 0 °C so that the balance stays continuous.
    """
    return LATENT_VAPOUR + LATENT_FREEZING * np.minimum(np.maximum(-temp_c, 0.0), 1.0)


def organ_temperature_c(
    air_temp_c: Array,
    vapour_kpa: Array,
    wind_ms: Array,
    absorbed_wm2: Array,
    pressure_kpa: Array,
    dimension_m: Array,
    stomatal_mol: Array,
    iterations: int = ITERATIONS,
    first_guess_c: Array | None = None,
) -> tuple[Array, Array]:
    """
    Temperature of an organ in balance with what it absorbs, and its transpiration. [°C], [mol m⁻² s⁻¹]

    The transpiration is negative where dew or rime settles.

    air_temp_c: around the organ. [°C]; vapour_kpa: vapour pressure of that air. [kPa]; wind_ms: there. [m s⁻¹]
    absorbed_wm2: short and long wave taken up by both faces per one-sided area. [W m⁻²]
    pressure_kpa: of the air. [kPa]; dimension_m: along the wind. [m]
    stomatal_mol: conductance of the surface for vapour per one-sided area; 0 for a bud. [mol m⁻² s⁻¹]

    iterations: of Newton's method; 4 end within 0.02 K of the solution over the whole range, 3 within 0.06 K.
    first_guess_c: where to begin; None: the air. [°C]

    Where the organ is colder than the dew point vapour settles on both faces through the boundary layer alone.
    Newton's method on a balance that falls strictly with temperature; valid for air of -60 to 60 °C, wind to 40 m/s.
    NaN in, NaN out. Source: Campbell & Norman 1998, chapters 7 and 14; Monteith & Unsworth 2013, chapter 10.
    """
    wind_over_size = np.maximum(wind_ms, LEAST_WIND_MS) / dimension_m
    boundary = FORCED_VAPOUR * np.sqrt(wind_over_size)
    wet_path = 2.0 * boundary / pressure_kpa
    open_path = stomatal_mol * boundary / (stomatal_mol + boundary) / pressure_kpa
    forced = _squared(FORCED_HEAT * FORCED_HEAT * wind_over_size)
    free = FREE_HEAT**4 / dimension_m
    start = air_temp_c if first_guess_c is None else first_guess_c
    temp = start + np.zeros(np.broadcast_shapes(absorbed_wm2.shape, wet_path.shape, open_path.shape, vapour_kpa.shape))
    excess = vapour_kpa
    for _ in range(iterations):
        difference = temp - air_temp_c
        exchange = _heat_conductance_mol(forced, free, difference)
        exchange *= MOLAR_HEAT
        kelvin = temp + 273.15
        # The emission and its slope share the third power; powers of numpy are ten times as slow as products.
        emission = (2.0 * EMISSIVITY * STEFAN_BOLTZMANN) * kelvin
        emission *= kelvin
        emission *= kelvin
        saturated = saturation_vapour_pressure_kpa(temp)
        excess = saturated - vapour_kpa
        path = np.where(excess < 0.0, wet_path, open_path)
        latent = latent_heat_mol(temp) * path
        balance = absorbed_wm2 - emission * kelvin
        balance -= exchange * difference
        balance -= latent * excess
        rise = slope_of_saturated_kpa_k(saturated, temp)
        slope = exchange
        slope += 4.0 * emission
        slope += latent * rise
        step = np.asarray(balance / slope)
        np.minimum(np.maximum(step, -25.0, out=step), 25.0, out=step)
        temp += step
        # At the new temperature the excess is another one, by its slope: the last steps are far under a kelvin.
        rise *= step
        excess += rise
    return temp, np.where(excess < 0.0, wet_path, open_path) * excess


def _squared(values: Array) -> Array:
    return values * values


def _heat_conductance_mol(forced: Array, free: Array, difference_k: Array) -> Array:
    """Of both faces, from the fourth powers of forced and (per kelvin) free convection of one. [mol m⁻² s⁻¹]"""
    joined = np.asarray(np.abs(difference_k) * free + forced)
    np.sqrt(np.sqrt(joined, out=joined), out=joined)
    joined *= 2.0
    return joined
