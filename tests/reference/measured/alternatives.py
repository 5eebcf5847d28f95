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

Exchange = Callable[[Array, Array], Array]
Emissivity = Callable[[Array, Array], Array]
Sky = Callable[[Array, Array, Array], Array]
STABILITIES = np.concatenate([[0.0], np.logspace(-4.0, 3.0, 1500)])


def prata(vapour_kpa: Array, air_c: Array) -> Array:
    """Clear-sky emissivity. [-] Prata 1996, Q. J. R. Meteorol. Soc. 122:1127-1151."""
    water = 46.5 * 10.0 * vapour_kpa / (air_c + 273.15)
    return 1.0 - (1.0 + water) * np.exp(-np.sqrt(1.2 + 3.0 * water))


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


def crawford_cloud(clear: Array, cloud: Array) -> Array:
    """Emissivity under cloud. [-] Crawford & Duchon 1999, as carewatch has it."""
    return cloud + (1.0 - cloud) * clear


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


def profile_exchange(momentum: Callable[[Array], Array], heat: Callable[[Array], Array]) -> Exchange:
    """Transfer velocity [m s⁻¹] of Monin-Obukhov profiles in the place of carewatch's; its own on unstable sides."""
    own = ground.exchange_ms

    def exchange_ms(wind_2m_ms: Array, richardson_number: Array) -> Array:
        height = ground.FORECAST_HEIGHT_M
        for_momentum = np.log(height / ground.ROUGHNESS_M) + momentum(STABILITIES)
        for_heat = np.log(height / ground.ROUGHNESS_HEAT_M) + heat(STABILITIES)
        numbers = STABILITIES * for_heat / for_momentum**2
        shares = 1.0 / (for_momentum * for_heat)
        wind = np.maximum(wind_2m_ms, ground.LEAST_WIND_MS)
        share = np.interp(richardson_number, numbers, shares)
        result: Array = np.where(
            richardson_number > 0.0, ground.VON_KARMAN**2 * wind * share, own(wind_2m_ms, richardson_number)
        )
        return result

    return exchange_ms


def sharp_exchange() -> Exchange:
    """Transfer velocity [m s⁻¹] with the "sharp" tail of King, Connolley & Derbyshire 2001 in stable air."""
    own = ground.exchange_ms

    def exchange_ms(wind_2m_ms: Array, richardson_number: Array) -> Array:
        neutral = own(wind_2m_ms, np.zeros_like(richardson_number))
        stable = np.maximum(richardson_number, 1e-9)
        factor = np.where(stable < 0.1, (1.0 - 5.0 * np.minimum(stable, 0.1)) ** 2, (1.0 / (20.0 * stable)) ** 2)
        result: Array = np.where(richardson_number > 0.0, neutral * factor, own(wind_2m_ms, richardson_number))
        return result

    return exchange_ms
