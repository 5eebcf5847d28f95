"""
Published formulas that carewatch could have taken instead of its own, at the numbers of their papers.

Nothing is fitted here. Numbers and titles are from memory, not read again.
"""

from collections.abc import Callable

import numpy as np

from carewatch.physics import ground
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2
from tests.reference.measured.record import Array

Stability = Callable[[Array, float], tuple[Array, Array]]
Emissivity = Callable[[Array, Array], Array]
Sky = Callable[[Array, Array, Array], Array]
STABILITIES = np.concatenate([[0.0], np.logspace(-4.0, 3.0, 1500)])


def brutsaert(vapour_kpa: Array, air_c: Array) -> Array:
    """Clear-sky emissivity. [-] Brutsaert 1975, Water Resources Research 11:742-744: 1.24 (e/T)^(1/7)."""
    return 1.24 * (10.0 * vapour_kpa / (air_c + 273.15)) ** (1.0 / 7.0)


def idso(vapour_kpa: Array, air_c: Array) -> Array:
    """Clear-sky emissivity. [-] Idso 1981, Water Resources Research 17:295-304, whole spectrum."""
    return 0.70 + 5.95e-5 * 10.0 * vapour_kpa * np.exp(1500.0 / (air_c + 273.15))


def dilley_obrien(vapour_kpa: Array, air_c: Array) -> Array:
    """Clear-sky emissivity. [-] Dilley & O'Brien 1998, Q. J. R. Meteorol. Soc. 124:1391-1401, model B."""
    kelvin = air_c + 273.15
    water = 46.5 * 10.0 * vapour_kpa / kelvin
    flux = 59.38 + 113.7 * (kelvin / 273.16) ** 6 + 96.96 * np.sqrt(water / 2.5)
    return flux / blackbody_wm2(air_c)


def brunt(vapour_kpa: Array, _air_c: Array) -> Array:
    """Clear-sky emissivity. [-] Brunt 1932 with the numbers of Sellers 1965, p. 53: 0.605 + 0.048 √e."""
    return 0.605 + 0.048 * np.sqrt(10.0 * vapour_kpa)


def idso_jackson(_vapour_kpa: Array, air_c: Array) -> Array:
    """Clear-sky emissivity. [-] Idso & Jackson 1969, J. Geophys. Res. 74:5397-5403."""
    return 1.0 - 0.261 * np.exp(-7.77e-4 * air_c**2)


def linear_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Unsworth & Monteith 1975, Q. J. R. Meteorol. Soc. 101:13-24."""
    return (1.0 - 0.84 * cloud) * clear + 0.84 * cloud


def late_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Maykut & Church 1973, J. Appl. Meteor. 12:620-628: 1 + 0.22 n^2.75."""
    return np.minimum(clear * (1.0 + 0.22 * cloud**2.75), 1.0)


def even_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Jacobs 1978, Energy budget studies, Baffin Island: 1 + 0.26 n."""
    return np.minimum(clear * (1.0 + 0.26 * cloud), 1.0)


def square_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Bolz 1949 for all types together: 1 + 0.22 n²."""
    return np.minimum(clear * (1.0 + 0.22 * cloud**2), 1.0)


def keding_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Keding 1989, Berichte CAU Kiel 77: 1 + 0.153 n^2.183 (Upper Rhine, North Sea)."""
    return np.minimum(clear * (1.0 + 0.153 * cloud**2.183), 1.0)


def crawford_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Crawford & Duchon 1999, J. Appl. Meteor. 38:474-480, octas for their fraction."""
    return cloud + (1.0 - cloud) * clear


def whole_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Konzelmann et al. 1994, as carewatch has it."""
    return clear + (np.maximum(0.952, clear) - clear) * cloud**4


def sky(clear: Emissivity, clouded: Emissivity) -> Sky:
    """Longwave from the sky [W m⁻²] out of air, dew point [°C] and cloud [0-1], in the place of carewatch's."""

    def longwave_wm2(air_temp_c: Array, dew_point_c: Array, cloud: Array) -> Array:
        emissivity = clear(saturation_vapour_pressure_kpa(dew_point_c), air_temp_c)
        result: Array = clouded(emissivity, cloud) * blackbody_wm2(air_temp_c)
        return result

    return longwave_wm2


def beljaars_holtslag(stability: Array) -> Array:
    """-ψ of heat at z/L. [-] Beljaars & Holtslag 1991, J. Appl. Meteor. 30:327-341."""
    return (
        (1.0 + 2.0 / 3.0 * stability) ** 1.5
        + 0.667 * (stability - 5.0 / 0.35) * np.exp(-0.35 * stability)
        + 0.667 * 5.0 / 0.35
        - 1.0
    )


def holtslag_de_bruin(stability: Array) -> Array:
    """-ψ at z/L, heat and momentum. [-] Holtslag & De Bruin 1988, J. Appl. Meteor. 27:689-704."""
    return 0.7 * stability + 0.75 * (stability - 5.0 / 0.35) * np.exp(-0.35 * stability) + 0.75 * 5.0 / 0.35


def dyer(stability: Array) -> Array:
    """-ψ at z/L, heat and momentum. [-] Dyer 1974, Boundary-Layer Meteor. 7:363-372; dies at Ri 0.2."""
    return 5.0 * stability


def beljaars_holtslag_momentum(stability: Array) -> Array:
    """-ψ of momentum at z/L. [-] Beljaars & Holtslag 1991."""
    return stability + 0.667 * (stability - 5.0 / 0.35) * np.exp(-0.35 * stability) + 0.667 * 5.0 / 0.35


def profile_stability(momentum: Callable[[Array], Array], heat: Callable[[Array], Array]) -> Stability:
    """Transfer over that in neutral air and its slope, of Monin-Obukhov profiles; carewatch's own on unstable sides."""
    own = ground.stability
    height = ground.FORECAST_HEIGHT_M
    to_momentum = np.log(height / ground.ROUGHNESS_M)
    to_heat = np.log(height / (ground.HEAT_ROUGHNESS_SHARE * ground.ROUGHNESS_M))
    for_momentum, for_heat = to_momentum + momentum(STABILITIES), to_heat + heat(STABILITIES)
    numbers = STABILITIES * for_heat / for_momentum**2
    shares = to_momentum * to_heat / (for_momentum * for_heat)
    # What the profile cannot reach (Dyer's ends at Ri 0.2) keeps its last share.
    slopes = np.gradient(shares, numbers)

    def stability(richardson_number: Array, free: float) -> tuple[Array, Array]:
        share, slope = own(richardson_number, free)
        stable = richardson_number > 0.0
        beyond = richardson_number >= numbers[-1]
        profile = np.interp(richardson_number, numbers, shares)
        steepness = np.where(beyond, 0.0, np.interp(richardson_number, numbers, slopes))
        return np.where(stable, profile, share), np.where(stable, steepness, slope)

    return stability


def sharp_stability() -> Stability:
    """The like with the "sharp" tail of King, Connolley & Derbyshire 2001 in stable air."""
    own = ground.stability

    def stability(richardson_number: Array, free: float) -> tuple[Array, Array]:
        share, slope = own(richardson_number, free)
        stable = np.maximum(richardson_number, 1e-9)
        near = 1.0 - 5.0 * np.minimum(stable, 0.1)
        sharp = np.where(stable < 0.1, near**2, (1.0 / (20.0 * stable)) ** 2)
        steepness = np.where(stable < 0.1, -10.0 * near, -2.0 * sharp / stable)
        cold = richardson_number > 0.0
        return np.where(cold, sharp, share), np.where(cold, steepness, slope)

    return stability
