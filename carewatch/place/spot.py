"""What a site and a place are: the coordinates, and the microclimate that a corner of the garden has."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Site:
    """
    Where the garden is.

    latitude, longitude: north and east positive. [°]
    elevation_m: above sea level. [m]
    surroundings: "open", "suburban" or "sheltered": how much of the open wind reaches the garden.
    """

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
    surroundings: str

    @property
    def position(self) -> tuple[float, float, float]:
        """Latitude and longitude [°], height [m]."""
        return self.latitude, self.longitude, self.elevation_m


@dataclass(frozen=True)
class Place:
    """
    One corner of the garden, with everything filled in (defaults come from the table of place kinds).

    height_m: height of the pots' base above the floor. [m]
    sky_view: share of the hemisphere that is open sky, trees above in leaf. [0-1]
    horizon: (azimuth from north clockwise [°], elevation [°]) points; the sun is hidden below the line through them.
    shelter: share of the site's wind that is kept away. [0-1]
    rain_reach: share of the rain that falls into the pots. [0-1]
    shade_cloth: share of the light that a fixed cloth takes away. [0-1]
    canopy_in_leaf, canopy_leafless: share of the direct sun that passes the trees above. [0-1]
    floor: "grass", "soil" or "paved".
    enclosed: true when the place has an air of its own (frame, shed, tunnel, room).
    glazing: share of the light that passes the enclosure when it comes straight down. [0-1]
    damping_h: time constant with which the closed enclosure's air follows the air outside. [h]
    solar_gain_k_per_100wm2: by how much 100 W m⁻² on its roof warm what the closed air leans on outside. [K]
    heated_to_c: lowest temperature that a heater holds, or None. [°C]
    room: how many pots find room, or None when unlimited.
    sky_view_leafless: the same with the trees above bare; None: no leaves hide the sky. [0-1]
    ground_share: share with which the closed enclosure's air leans on its soil. [0-1]
    roof_k_per_100wm2: the like of solar_gain for what the roof loses to the sky by longwave. [K]
    damp: how far the closed air is from outside's vapour towards what its moist soil would saturate. [0-1]
    exchange: exchange with the outside over that of the closed enclosure; 1 is closed. [-]
    """

    id: str
    kind: str
    height_m: float
    sky_view: float
    horizon: tuple[tuple[float, float], ...]
    shelter: float
    rain_reach: float
    shade_cloth: float
    canopy_in_leaf: float
    canopy_leafless: float
    floor: str
    enclosed: bool
    glazing: float
    damping_h: float
    solar_gain_k_per_100wm2: float
    heated_to_c: float | None
    room: int | None
    sky_view_leafless: float | None = None
    ground_share: float = 0.0
    roof_k_per_100wm2: float = 0.0
    damp: float = 0.0
    exchange: float = 1.0
