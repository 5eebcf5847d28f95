"""How warm January and July are in a part of the world: station normals, carried to where no record begins yet."""

from functools import cache

import numpy as np

from carewatch.forecast.weather import Array

EARTH_RADIUS_KM = 6371.0
# Cooler by so much with height: the standard atmosphere. [K/m]
LAPSE_K_PER_M = 0.0065
# A station counts for e⁻¹ as much this far away, and near ones more: by half at that distance. The best of 150 to 1,000
# and of 10 to 200 km, within 0.1 K, when each station was told from the others. [km]
REACH_KM, NEAR_KM = 250.0, 30.0
# What lowland temperate climates of the latitude are counts like a station at some 1,000 km. [-]
LATITUDE_WEIGHT = 0.0005

# Latitude and longitude, north and east positive [°], height [m], means of January and July [°C]. Normals of 1991 to
# 2020 of the national services, rounded, from memory: a tenth is not to be relied on, half a kelvin mostly. Where they
# can be checked they are (tests/forecast/test_normals.py).
STATIONS = (
    # North America
    (42.4, -71.0, 5.0, -1.0, 23.4),  # Boston
    (40.8, -74.0, 40.0, 0.9, 25.3),  # New York
    (39.9, -75.2, 3.0, 1.3, 26.2),  # Philadelphia
    (38.9, -77.0, 5.0, 3.1, 27.2),  # Washington
    (37.5, -77.3, 50.0, 3.4, 26.6),  # Richmond
    (35.9, -78.8, 125.0, 5.2, 26.8),  # Raleigh
    (35.2, -80.9, 230.0, 5.6, 26.6),  # Charlotte
    (33.6, -84.4, 310.0, 7.1, 27.1),  # Atlanta
    (30.5, -81.7, 8.0, 12.6, 28.2),  # Jacksonville
    (28.0, -82.5, 5.0, 16.5, 28.7),  # Tampa
    (25.8, -80.3, 3.0, 20.4, 29.1),  # Miami
    (30.0, -90.3, 2.0, 12.4, 28.9),  # New Orleans
    (30.0, -95.4, 30.0, 12.1, 29.6),  # Houston
    (32.9, -97.0, 170.0, 8.2, 30.2),  # Dallas
    (30.2, -97.7, 150.0, 10.8, 29.9),  # Austin
    (35.4, -97.6, 395.0, 3.6, 28.3),  # Oklahoma City
    (35.1, -90.0, 80.0, 5.3, 28.6),  # Memphis
    (36.1, -86.7, 180.0, 4.0, 27.2),  # Nashville
    (38.2, -85.7, 150.0, 2.0, 26.7),  # Louisville
    (38.8, -90.4, 160.0, 0.4, 27.1),  # St. Louis
    (39.3, -94.7, 310.0, -1.4, 26.0),  # Kansas City
    (41.3, -95.9, 300.0, -4.1, 25.1),  # Omaha
    (44.9, -93.2, 255.0, -9.0, 23.5),  # Minneapolis
    (42.0, -87.9, 200.0, -4.0, 24.1),  # Chicago
    (42.2, -83.3, 195.0, -3.3, 23.6),  # Detroit
    (41.4, -81.9, 235.0, -2.0, 23.7),  # Cleveland
    (40.5, -80.2, 365.0, -1.8, 22.8),  # Pittsburgh
    (42.9, -78.7, 220.0, -3.6, 22.2),  # Buffalo
    (42.7, -73.8, 90.0, -4.3, 22.6),  # Albany
    (44.5, -73.2, 100.0, -6.6, 22.2),  # Burlington
    (43.6, -70.3, 15.0, -4.4, 21.4),  # Portland ME
    (45.5, -73.7, 35.0, -9.2, 21.6),  # Montreal
    (46.8, -71.4, 70.0, -12.0, 19.6),  # Quebec
    (45.3, -75.7, 115.0, -9.8, 21.4),  # Ottawa
    (43.7, -79.6, 175.0, -4.8, 22.0),  # Toronto
    (44.9, -63.5, 145.0, -5.4, 19.1),  # Halifax
    (47.6, -52.7, 140.0, -4.3, 16.0),  # St. John's
    (48.4, -89.3, 200.0, -13.8, 17.9),  # Thunder Bay
    (49.9, -97.2, 240.0, -16.2, 19.5),  # Winnipeg
    (46.9, -96.8, 275.0, -12.3, 21.9),  # Fargo
    (46.8, -100.8, 505.0, -10.3, 22.1),  # Bismarck
    (50.4, -104.7, 575.0, -14.0, 18.9),  # Regina
    (44.0, -103.1, 965.0, -3.6, 22.8),  # Rapid City
    (39.8, -104.7, 1650.0, -0.3, 23.9),  # Denver
    (41.2, -104.8, 1865.0, -1.9, 20.6),  # Cheyenne
    (51.1, -114.0, 1085.0, -7.6, 17.0),  # Calgary
    (53.3, -113.6, 715.0, -11.7, 16.4),  # Edmonton
    (47.5, -111.4, 1115.0, -3.8, 20.6),  # Great Falls
    (45.8, -108.5, 1090.0, -2.9, 23.1),  # Billings
    (40.8, -112.0, 1290.0, -0.3, 27.0),  # Salt Lake City
    (43.6, -116.2, 865.0, -0.1, 25.1),  # Boise
    (47.6, -117.5, 720.0, -1.7, 21.5),  # Spokane
    (35.0, -106.6, 1620.0, 3.0, 26.6),  # Albuquerque
    (31.8, -106.4, 1195.0, 8.1, 28.9),  # El Paso
    (33.4, -112.0, 340.0, 13.5, 35.1),  # Phoenix
    (32.1, -110.9, 775.0, 11.9, 31.0),  # Tucson
    (36.1, -115.2, 660.0, 9.4, 34.0),  # Las Vegas
    (39.5, -119.8, 1345.0, 2.4, 25.6),  # Reno
    (38.5, -121.5, 8.0, 8.6, 24.2),  # Sacramento
    (36.8, -119.7, 100.0, 8.8, 28.9),  # Fresno
    (37.6, -122.4, 3.0, 10.6, 17.8),  # San Francisco
    (33.9, -118.4, 30.0, 14.1, 20.9),  # Los Angeles, airport
    (34.1, -118.2, 60.0, 14.5, 23.4),  # Los Angeles, town
    (32.7, -117.2, 5.0, 14.6, 21.4),  # San Diego
    (42.4, -122.9, 400.0, 4.3, 24.4),  # Medford
    (45.6, -122.6, 5.0, 5.1, 21.3),  # Portland OR
    (47.4, -122.3, 130.0, 5.5, 19.7),  # Seattle
    (49.2, -123.2, 5.0, 4.3, 18.3),  # Vancouver
    (48.6, -123.4, 20.0, 4.6, 17.0),  # Victoria
    (50.0, -119.4, 430.0, -2.5, 20.2),  # Kelowna
    (53.9, -122.7, 690.0, -7.9, 16.1),  # Prince George
    (60.7, -135.1, 705.0, -15.2, 14.3),  # Whitehorse
    (58.4, -134.6, 5.0, -2.1, 14.0),  # Juneau
    (61.2, -150.0, 35.0, -8.2, 15.3),  # Anchorage
    (64.8, -147.9, 135.0, -22.4, 16.9),  # Fairbanks
    (25.7, -100.3, 515.0, 14.5, 28.3),  # Monterrey
    (19.4, -99.1, 2240.0, 14.0, 18.5),  # Mexico City
    (23.1, -82.4, 50.0, 22.2, 28.0),  # Havana
    (32.4, -64.7, 10.0, 18.3, 27.0),  # Bermuda
    (21.3, -157.9, 5.0, 23.1, 27.3),  # Honolulu
    # Europe
    (37.7, -25.7, 70.0, 14.4, 21.0),  # Ponta Delgada
    (28.0, -15.4, 25.0, 18.2, 23.5),  # Las Palmas
    (64.1, -21.9, 50.0, 0.7, 11.6),  # Reykjavik
    (38.7, -9.1, 80.0, 11.6, 23.1),  # Lisbon
    (41.2, -8.7, 70.0, 9.7, 20.3),  # Porto
    (40.4, -3.7, 665.0, 6.5, 26.1),  # Madrid
    (37.4, -5.9, 34.0, 11.1, 28.8),  # Seville
    (39.5, -0.4, 10.0, 12.0, 26.0),  # Valencia
    (41.3, 2.1, 5.0, 9.4, 24.2),  # Barcelona
    (43.3, -2.9, 40.0, 9.3, 20.7),  # Bilbao
    (44.8, -0.7, 50.0, 6.9, 21.4),  # Bordeaux
    (48.4, -4.4, 95.0, 7.1, 17.2),  # Brest
    (48.8, 2.3, 75.0, 5.4, 21.0),  # Paris
    (45.7, 4.9, 200.0, 3.9, 22.6),  # Lyon
    (43.4, 5.2, 10.0, 7.6, 25.1),  # Marseille
    (48.5, 7.6, 150.0, 2.1, 20.6),  # Strasbourg
    (51.5, -0.4, 25.0, 5.7, 19.0),  # London
    (53.4, -2.3, 70.0, 4.7, 16.5),  # Manchester
    (56.0, -3.4, 40.0, 4.3, 15.4),  # Edinburgh
    (53.4, -6.2, 70.0, 5.3, 15.4),  # Dublin
    (51.8, -8.5, 155.0, 5.6, 15.0),  # Cork
    (52.1, 5.2, 2.0, 3.6, 18.3),  # De Bilt
    (50.8, 4.4, 100.0, 3.7, 18.7),  # Brussels
    (50.9, 7.2, 90.0, 3.0, 19.3),  # Cologne
    (53.6, 10.0, 10.0, 2.1, 18.3),  # Hamburg
    (52.4, 13.1, 81.0, 1.0, 19.5),  # Potsdam
    (50.0, 8.6, 110.0, 2.2, 20.5),  # Frankfurt
    (48.1, 11.5, 515.0, 0.7, 19.5),  # Munich
    (47.4, 8.6, 555.0, 0.9, 19.1),  # Zurich
    (46.2, 6.1, 410.0, 2.0, 20.8),  # Geneva
    (47.3, 11.4, 580.0, -1.0, 19.5),  # Innsbruck
    (48.2, 16.4, 200.0, 1.2, 21.6),  # Vienna
    (47.0, 15.4, 365.0, -0.2, 21.0),  # Graz
    (50.1, 14.3, 365.0, -0.8, 18.9),  # Prague
    (49.2, 16.7, 240.0, -1.1, 20.3),  # Brno
    (54.4, 18.6, 10.0, -0.6, 18.3),  # Gdansk
    (52.2, 21.0, 105.0, -1.5, 19.6),  # Warsaw
    (50.1, 19.8, 235.0, -1.5, 19.5),  # Krakow
    (47.5, 19.0, 130.0, 0.6, 22.4),  # Budapest
    (45.8, 16.0, 125.0, 1.3, 22.4),  # Zagreb
    (44.8, 20.5, 130.0, 1.9, 23.8),  # Belgrade
    (44.5, 26.1, 90.0, -1.1, 23.6),  # Bucharest
    (42.7, 23.4, 590.0, -0.5, 21.7),  # Sofia
    (40.5, 23.0, 5.0, 6.1, 27.3),  # Thessaloniki
    (38.0, 23.7, 105.0, 10.0, 29.0),  # Athens
    (41.0, 29.0, 40.0, 6.3, 24.5),  # Istanbul
    (40.0, 32.9, 890.0, 0.9, 24.3),  # Ankara
    (38.4, 27.2, 25.0, 9.0, 28.5),  # Izmir
    (41.8, 12.6, 130.0, 7.6, 24.9),  # Rome
    (45.5, 9.3, 105.0, 3.3, 25.0),  # Milan
    (44.5, 11.3, 40.0, 3.3, 25.5),  # Bologna
    (40.8, 14.3, 70.0, 9.2, 25.6),  # Naples
    (38.1, 13.3, 20.0, 12.4, 26.4),  # Palermo
    (69.7, 18.9, 100.0, -3.3, 12.0),  # Tromso
    (60.4, 5.3, 12.0, 2.5, 15.3),  # Bergen
    (59.9, 10.7, 95.0, -2.3, 17.7),  # Oslo
    (57.7, 12.0, 5.0, 0.9, 18.1),  # Gothenburg
    (55.7, 12.5, 5.0, 1.8, 18.3),  # Copenhagen
    (59.3, 18.1, 45.0, -1.0, 18.7),  # Stockholm
    (60.2, 25.0, 5.0, -3.1, 18.1),  # Helsinki
    (64.9, 25.4, 10.0, -8.6, 16.9),  # Oulu
    (59.4, 24.8, 35.0, -2.9, 17.8),  # Tallinn
    (57.0, 24.1, 10.0, -2.4, 19.0),  # Riga
    (54.6, 25.1, 160.0, -3.9, 18.7),  # Vilnius
    (53.9, 27.6, 220.0, -4.2, 19.1),  # Minsk
    (50.4, 30.5, 165.0, -3.2, 21.3),  # Kyiv
    (46.5, 30.7, 40.0, -0.5, 23.1),  # Odesa
    (60.0, 30.3, 5.0, -4.8, 19.1),  # St. Petersburg
    (55.8, 37.6, 155.0, -6.2, 19.7),  # Moscow
    (47.2, 39.7, 75.0, -2.6, 24.0),  # Rostov
    (55.8, 49.2, 115.0, -10.2, 20.3),  # Kazan
    (56.8, 60.6, 280.0, -12.6, 19.1),  # Yekaterinburg
    # Asia and the south of the Mediterranean
    (41.7, 44.8, 430.0, 2.5, 25.3),  # Tbilisi
    (55.0, 82.9, 160.0, -16.5, 19.6),  # Novosibirsk
    (52.3, 104.3, 470.0, -17.6, 18.9),  # Irkutsk
    (43.2, 76.9, 850.0, -4.7, 24.4),  # Almaty
    (33.6, -7.7, 55.0, 12.8, 22.8),  # Casablanca
    (36.7, 3.2, 25.0, 11.3, 26.1),  # Algiers
    (36.8, 10.2, 5.0, 11.6, 27.6),  # Tunis
    (30.1, 31.4, 65.0, 14.1, 29.3),  # Cairo
    (32.1, 34.8, 5.0, 13.4, 26.9),  # Tel Aviv
    (33.3, 44.4, 35.0, 10.0, 36.0),  # Baghdad
    (35.7, 51.3, 1190.0, 4.5, 31.0),  # Tehran
    (24.7, 46.7, 620.0, 14.5, 36.5),  # Riyadh
    (28.6, 77.2, 215.0, 14.0, 31.4),  # Delhi
    (43.1, 141.3, 17.0, -3.2, 21.1),  # Sapporo
    (38.3, 140.9, 40.0, 2.0, 22.9),  # Sendai
    (37.9, 139.0, 5.0, 2.5, 24.9),  # Niigata
    (35.7, 139.8, 25.0, 5.4, 25.7),  # Tokyo
    (35.2, 137.0, 50.0, 4.8, 26.9),  # Nagoya
    (34.7, 135.5, 20.0, 6.2, 27.7),  # Osaka
    (33.6, 130.4, 3.0, 6.9, 27.9),  # Fukuoka
    (31.6, 130.5, 5.0, 8.7, 28.1),  # Kagoshima
    (37.6, 127.0, 85.0, -2.0, 25.3),  # Seoul
    (35.1, 129.0, 70.0, 3.6, 24.3),  # Busan
    (43.1, 131.9, 185.0, -12.0, 17.9),  # Vladivostok
    (45.8, 126.7, 140.0, -17.5, 23.3),  # Harbin
    (41.7, 123.5, 45.0, -11.2, 24.7),  # Shenyang
    (39.9, 116.3, 55.0, -2.7, 26.7),  # Beijing
    (34.3, 108.9, 400.0, 0.6, 27.6),  # Xi'an
    (31.2, 121.4, 5.0, 5.3, 29.1),  # Shanghai
    (30.6, 114.1, 25.0, 4.2, 29.4),  # Wuhan
    (30.7, 104.0, 505.0, 6.0, 25.8),  # Chengdu
    (25.0, 102.7, 1890.0, 9.0, 20.6),  # Kunming
    (23.1, 113.3, 40.0, 13.8, 28.9),  # Guangzhou
    (25.0, 121.5, 10.0, 16.6, 30.1),  # Taipei
    (47.9, 106.9, 1310.0, -21.3, 18.8),  # Ulaanbaatar
    (13.7, 100.6, 5.0, 27.6, 29.5),  # Bangkok
    (1.4, 104.0, 15.0, 26.8, 28.2),  # Singapore
    # The south
    (-12.4, 130.9, 30.0, 28.3, 25.2),  # Darwin
    (-27.5, 153.0, 10.0, 25.9, 15.8),  # Brisbane
    (-31.9, 116.0, 25.0, 24.7, 13.1),  # Perth
    (-33.9, 151.2, 40.0, 23.4, 13.0),  # Sydney
    (-34.9, 138.6, 40.0, 23.6, 11.6),  # Adelaide
    (-35.3, 149.2, 575.0, 21.3, 6.0),  # Canberra
    (-37.8, 145.0, 30.0, 20.8, 10.5),  # Melbourne
    (-42.9, 147.3, 50.0, 17.8, 8.7),  # Hobart
    (-37.0, 174.8, 10.0, 19.5, 11.2),  # Auckland
    (-41.3, 174.8, 125.0, 17.0, 9.1),  # Wellington
    (-43.5, 172.5, 35.0, 17.0, 6.2),  # Christchurch
    (-45.9, 170.5, 5.0, 15.2, 6.6),  # Dunedin
    (-1.3, 36.8, 1660.0, 19.3, 17.0),  # Nairobi
    (-26.1, 28.2, 1695.0, 20.2, 10.4),  # Johannesburg
    (-29.9, 31.0, 10.0, 24.5, 17.0),  # Durban
    (-34.0, 18.6, 45.0, 21.5, 12.5),  # Cape Town
    (4.7, -74.1, 2550.0, 13.3, 13.5),  # Bogota
    (-12.0, -77.1, 15.0, 22.8, 17.0),  # Lima
    (-23.5, -46.6, 790.0, 23.1, 16.8),  # Sao Paulo
    (-30.0, -51.2, 45.0, 24.9, 14.3),  # Porto Alegre
    (-33.4, -70.7, 475.0, 21.2, 8.6),  # Santiago
    (-34.6, -58.5, 25.0, 24.9, 11.1),  # Buenos Aires
    (-53.0, -70.8, 40.0, 10.7, 1.8),  # Punta Arenas
)


def latitude_normals_c(latitude: float, elevation_m: float) -> tuple[float, float]:
    """
    Mean air temperature of January and July in lowland temperate climates of this latitude near western coasts. [°C]

    latitude: north positive. [°]; elevation_m: above sea level. [m]
    Annual mean 27 - 27·sin²(latitude) at sea level, yearly swing 0.17 K per degree: an estimate within 3 K of the
    normals of Lisbon, Vienna, De Bilt and Potsdam.
    """
    annual = 27.0 - 27.0 * float(np.sin(np.radians(latitude))) ** 2 - LAPSE_K_PER_M * elevation_m
    return annual - 0.17 * latitude, annual + 0.17 * latitude


Stations = tuple[tuple[float, float, float, float, float], ...]


@cache
def normals_c(
    latitude: float, longitude: float, elevation_m: float, stations: Stations = STATIONS
) -> tuple[float, float]:
    """
    Mean air temperature of January and July at a place. [°C]

    latitude, longitude: north and east positive. [°]; elevation_m: above sea level. [m]; stations: rows like STATIONS.
    What stations around differ from their latitude, by distance. Told from the others, a station outside of the tropics
    is missed by 2.6 K (root mean square) in January and 2.3 K in July, by up to 11 K where sea fog, a mountain range or
    the next station a thousand kilometres away decides.
    """
    at, differs_k = _away(stations)
    away_km = EARTH_RADIUS_KM * np.arccos(np.clip(at @ _direction(latitude, longitude), -1.0, 1.0))
    weight = np.exp(-away_km / REACH_KM) * NEAR_KM / (NEAR_KM + away_km)
    shift = weight @ differs_k / (float(weight.sum()) + LATITUDE_WEIGHT)
    january, july = latitude_normals_c(latitude, elevation_m)
    return january + float(shift[0]), july + float(shift[1])


@cache
def _away(stations: Stations) -> tuple[Array, Array]:
    """Directions of the stations from the middle of the earth, and what they differ from their latitude. [K]"""
    at = np.array([_direction(latitude, longitude) for latitude, longitude, *_ in stations])
    usual = np.array([latitude_normals_c(latitude, elevation_m) for latitude, _, elevation_m, *_ in stations])
    return at, np.array([station[-2:] for station in stations]) - usual


def _direction(latitude: float, longitude: float) -> Array:
    north, east = np.radians(latitude), np.radians(longitude)
    return np.array([np.cos(north) * np.cos(east), np.cos(north) * np.sin(east), np.sin(north)])
