"""How far forecasts miss, by lead: the numbers with which a single run is dressed into an ensemble."""

from dataclasses import dataclass


@dataclass(frozen=True)
class ForecastErrors:
    """
    Read from forecast.toml. All sequences belong to lead_days.

    lead_days: leads. [d]
    air_sd_k, air_bias_k: spread and mean (forecast minus truth is -bias) of 2 m air temperature errors. [K]
    wind_log_sd: spread of the logarithm of wind and gust errors. [-]
    cloud_logit_sd: spread of the logit of cloud errors. [-]
    memory_h: time over which an error forgets itself. [h]
    members: how many equally likely members a single run becomes. [-]
    """

    lead_days: tuple[float, ...]
    air_sd_k: tuple[float, ...]
    air_bias_k: tuple[float, ...]
    wind_log_sd: tuple[float, ...]
    cloud_logit_sd: tuple[float, ...]
    memory_h: float
    members: int
    source: str
