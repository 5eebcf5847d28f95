"""Dressing a single forecast run into equally likely members by the known spread of forecast errors."""

from collections.abc import Mapping
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.raw import VARIABLES
from carewatch.forecast.weather import Array
from carewatch.physics.sun import SunPosition, clear_sky_global_wm2, cloud_transmission, split_beam_diffuse

# Cloud of exactly 0 or 1 has no logit; this is how near to it a member may start. [-]
CLOUD_EDGE = 0.02
# Longer than any forecast reaches by so much that no season meets the same throws twice: half a year. [h]
PERIOD_H = 4096


def quantile_levels(members: int) -> Array:
    """Probabilities that equally likely members stand for, the middles of equal slices. [0-1]"""
    return (np.arange(members) + 0.5) / members


def ranked_paths(hours: int, members: int, memory_h: float, variables: int = 3, start_h: int = 0) -> tuple[Array, ...]:
    """
    Standard normal deviates, one (hour, member) array per variable. [-]

    At every hour they are exactly the quantiles of N(0, 1), handed to members along paths that remember for memory_h.

    hours, members: sizes; memory_h: e-folding time of the paths [h]; start_h: the first hour, counted from any fixed
    moment. [h] An hour has the same ranks whenever it is looked at: a night that comes nearer is thrown once, not anew
    with every look. The paths repeat themselves after PERIOD_H.
    """
    rows = (start_h + np.arange(hours)) % PERIOD_H
    levels = np.array([NormalDist().inv_cdf(float(level)) for level in quantile_levels(members)])
    ranks = (np.argsort(np.argsort(latent[rows], axis=1), axis=1) for latent in _latent(members, memory_h, variables))
    return tuple(levels[rank] for rank in ranks)


@lru_cache(maxsize=4)
def _latent(members: int, memory_h: float, variables: int) -> tuple[Array, ...]:
    """Autoregressive paths whose end leads into their beginning, one (PERIOD_H, member) array per variable. [-]"""
    # A fixed seed, so that the same input gives the same members at every run.
    generator = np.random.default_rng(19_870_921)
    keep = np.exp(-1.0 / memory_h)
    shocks = generator.standard_normal((PERIOD_H, variables, members)) * np.sqrt(1.0 - keep**2)
    # The last stretch before the first hour, long enough for a path to forget where it started.
    latent = np.zeros((variables, members))
    for hour in range(-min(PERIOD_H, int(20.0 * memory_h)), 0):
        latent = keep * latent + shocks[hour]
    paths = np.empty_like(shocks)
    for hour in range(PERIOD_H):
        latent = keep * latent + shocks[hour]
        paths[hour] = latent
    paths.setflags(write=False)
    return tuple(paths[:, variable] for variable in range(variables))


def dress(
    single: Mapping[str, Array], leads_h: Array, errors: ForecastErrors, paths: tuple[Array, ...]
) -> dict[str, Array]:
    """
    Members around a single run, each variable of shape (hour, member).

    single: canonical variables, shape (hour,); leads_h: hours since the forecast was issued. [h]
    errors: spread by lead; paths: from ranked_paths: air (shared by dew point), wind (shared by gust), cloud.
    """
    days = np.maximum(leads_h, 0.0) / 24.0

    def by_lead(values: tuple[float, ...]) -> Array:
        return np.interp(days, errors.lead_days, values)[:, None]

    air_path, wind_path, cloud_path = paths
    shift = by_lead(errors.air_bias_k) + by_lead(errors.air_sd_k) * air_path
    factor = np.exp(by_lead(errors.wind_log_sd) * wind_path)
    members: dict[str, Array] = {
        name: np.repeat(single[name][:, None], air_path.shape[1], axis=1) for name in VARIABLES
    }
    members["air_temp_c"] = single["air_temp_c"][:, None] + shift
    members["dew_point_c"] = np.minimum(single["dew_point_c"][:, None] + shift, members["air_temp_c"])
    members["wind_10m_ms"] = single["wind_10m_ms"][:, None] * factor
    members["gust_10m_ms"] = single["gust_10m_ms"][:, None] * factor
    cloud = np.clip(single["cloud"], CLOUD_EDGE, 1.0 - CLOUD_EDGE)[:, None]
    odds = cloud / (1.0 - cloud) * np.exp(by_lead(errors.cloud_logit_sd) * cloud_path)
    members["cloud"] = odds / (1.0 + odds)
    return members


def widen_radiation(
    members: Mapping[str, Array], single: Mapping[str, Array], sun: SunPosition, edge: float = CLOUD_EDGE
) -> dict[str, Array]:
    """
    Members whose sunlight follows their own cloud, where cloud differs from the single run.

    edge: how near to 0 and 1 the cloud of members around the run may come; 0 for members with a cloud of their own.

    The single run's global radiation is scaled by the ratio of cloud transmissions and split anew; a member with the
    single run's cloud keeps the single run's beam and diffuse light unchanged.
    """
    own = cloud_transmission(members["cloud"])
    base = cloud_transmission(np.clip(single["cloud"], edge, 1.0 - edge))[:, None]
    ratio = own / base
    clear = clear_sky_global_wm2(sun.elevation_deg, sun.extraterrestrial_normal_wm2)[:, None]
    global_wm2 = np.minimum(single["global_wm2"][:, None] * ratio, np.maximum(clear, single["global_wm2"][:, None]))
    direct, diffuse = split_beam_diffuse(
        global_wm2, sun.elevation_deg[:, None], sun.extraterrestrial_normal_wm2[:, None]
    )
    same = np.abs(ratio - 1.0) < 1e-9
    changed = dict(members)
    changed["global_wm2"] = np.where(same, members["global_wm2"], global_wm2)
    changed["direct_normal_wm2"] = np.where(same, members["direct_normal_wm2"], direct)
    changed["diffuse_wm2"] = np.where(same, members["diffuse_wm2"], diffuse)
    return changed
