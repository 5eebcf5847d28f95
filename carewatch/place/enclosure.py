"""The air of frames, tunnels, sheds and rooms: how it follows the weather, closed and opened."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from carewatch.forecast.weather import Array
from carewatch.place.spot import Place

# Air in a closed enclosure hardly moves. Judged. [m s⁻¹]
ENCLOSED_WIND_MS = 0.1
# Opened, an enclosure exchanges ten times as much heat with the air outside, which keeps a frame in full sun within 3
# to 4 K of it (common practice: within 3 °C). [-]
OPENED_EXCHANGE = 10.0
# A place that is kept as warm as this is a room for living in, whose windows nobody opens for the trees. Judged. [°C]
ROOM_C = 12.0


@dataclass(frozen=True)
class Enclosures:
    """
    Places with an air of their own, and the steady balance that it strives for; arrays (place,).

    at: their positions. follow: share of the way to the balance within an hour. [0-1]
    outside, soil, sun_k, sky_k: what the balance takes of the air outside [-], of the soil [-], of the light on the
    roof [K per W m⁻²], and of the roof's longwave loss [K per W m⁻²]. damp: as place.spot, opened or closed. [0-1]
    least_c: what a heater holds, -inf without. [°C]
    """

    at: NDArray[np.int64]
    follow: Array
    outside: Array
    soil: Array
    sun_k: Array
    sky_k: Array
    damp: Array
    least_c: Array

    @property
    def any(self) -> bool:
        """Whether there are any."""
        return self.at.size > 0


def can_open(place: Place) -> bool:
    """Whether a place is an enclosure that is opened for the trees: frames, tunnels and sheds, frost-free ones too."""
    return place.enclosed and (place.heated_to_c is None or place.heated_to_c < ROOM_C)


def opened(place: Place, name: str) -> Place:
    """The same place with its lights or its door open, under another id."""
    return replace(place, id=name, exchange=OPENED_EXCHANGE)


def enclosures(places: Sequence[Place]) -> Enclosures:
    """
    The enclosures among the places.

    The air of a small enclosure holds hardly any heat; what fills and surrounds it does, and follows within damping_h.
    Heat flows in from the outside through cover and gaps (share 1 - ground_share when closed), from the soil, and from
    the light; opening multiplies the sum of the flows, the soil and the sun then count for less, and the air follows
    faster. Source: steady heat balance of an unheated greenhouse with lumped conductances (Bot 1983, Greenhouse
    climate: from physical processes to a dynamic model, in its simplest form).
    """
    at = np.array([position for position, place in enumerate(places) if place.enclosed], dtype=np.int64)
    chosen = [places[position] for position in at]

    def each(values: Sequence[float]) -> Array:
        return np.array(values, dtype=np.float64)

    soil = each([place.ground_share for place in chosen])
    exchange = each([place.exchange for place in chosen])
    damping = np.maximum(each([place.damping_h for place in chosen]), 1e-3) / exchange
    closed_outside = 1.0 - soil
    # Vapour goes the way of the air: what the soil gives off is blown away as the exchange grows.
    damp = each([place.damp for place in chosen])
    times_outside = (exchange - soil) / np.maximum(closed_outside, 1e-6)
    return Enclosures(
        at=at,
        follow=1.0 - np.exp(-1.0 / damping),
        outside=(exchange - soil) / exchange,
        soil=soil / exchange,
        sun_k=closed_outside * each([place.solar_gain_k_per_100wm2 for place in chosen]) / 100.0 / exchange,
        sky_k=closed_outside * each([place.roof_k_per_100wm2 for place in chosen]) / 100.0 / exchange,
        damp=damp / np.maximum(damp + (1.0 - damp) * times_outside, 1e-6),
        least_c=each([-np.inf if place.heated_to_c is None else place.heated_to_c for place in chosen]),
    )


def enclosed_wind_ms(places: Sequence[Place], open_wind_ms: Array) -> Array:
    """
    Wind at each place: that of the open, hardly any in a closed enclosure, in an opened one what its walls let in.

    open_wind_ms: after shelter, (..., place). [m s⁻¹]
    """
    still = np.array([place.enclosed and place.exchange <= 1.0 for place in places])
    aired = np.array([place.enclosed and place.exchange > 1.0 for place in places])
    least = np.where(aired, ENCLOSED_WIND_MS, 0.0)
    return np.where(still, ENCLOSED_WIND_MS, np.maximum(open_wind_ms, least))


def striving_c(inside: Enclosures, air_c: Array, roof_light_wm2: Array, sky_loss_wm2: Array) -> Array:
    """
    What the enclosures' air strives for, but for the part of the soil, (hour, member, enclosure). [°C]

    air_c: outside, (hour, member, 1). [°C]; roof_light_wm2: on the roofs, (hour, member, enclosure). [W m⁻²]
    sky_loss_wm2: longwave that a surface at air temperature loses to the sky it sees, the same shape. [W m⁻²]
    """
    result: Array = inside.outside * air_c + inside.sun_k * roof_light_wm2 - inside.sky_k * sky_loss_wm2
    return result


def enclosure_step(inside: Enclosures, air_c: Array, striving: Array, soil_c: Array) -> Array:
    """
    The enclosures' air one hour later, (member, enclosure). [°C]

    air_c: inside, before; striving: of this hour, from striving_c; soil_c: under the enclosure. [°C]
    """
    result: Array = np.maximum(air_c + inside.follow * (striving + inside.soil * soil_c - air_c), inside.least_c)
    return result
