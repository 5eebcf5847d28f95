"""What weather sources are called and whom their licences name, for wherever their data are shown."""

from collections.abc import Sequence

OPEN_METEO, MET_NORWAY, RECORDED = "open-meteo", "met-norway", "recorded"
NAMES = {OPEN_METEO: "Open-Meteo", MET_NORWAY: "MET Norway", RECORDED: "a recorded forecast"}
# Source: the licence pages of both services.
CREDITS = {
    OPEN_METEO: "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0.",
    MET_NORWAY: "Data from MET Norway (https://www.met.no/), CC BY 4.0.",
}
# Source: Open-Meteo documentation of the archive interface, and the licence of the Copernicus data in it.
ARCHIVE_CREDIT = (
    "Past weather by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0, from ERA5 of the Copernicus Climate Change "
    "Service."
)
_LIGHT = ("global_wm2", "direct_normal_wm2", "diffuse_wm2")


def standing_in(source: str, first: str, estimated: Sequence[str]) -> str:
    """
    One sentence that says whose forecast stands in, or "" when the first source's own serves.

    source: whose serves; first: who is asked first. estimated: names of variables, each with how it was estimated.
    """
    if source in (first, RECORDED):
        return ""
    names = {each.partition(":")[0].partition(" ")[0] for each in estimated}
    parts = [
        word for word, known in (("radiation", names.intersection(_LIGHT)), ("gusts", names & {"gust_10m_ms"})) if known
    ]
    said = f"; {' and '.join(parts)} are estimated" if parts else ""
    if parts == ["radiation"]:
        said = "; radiation is estimated"
    return f"From {NAMES.get(source, source)}, as {NAMES.get(first, first)} does not answer{said}."
