"""The first configuration of a new garden, for `carewatch config new`."""

import json
from importlib.resources import files

# Latitude and longitude in the template: an observatory, not a garden. A configuration that still has them is warned.
PLACEHOLDER = (51.4779, -0.0015)
PLACEHOLDER_ZONE = "Europe/London"


def starter_text(
    latitude: float = PLACEHOLDER[0], longitude: float = PLACEHOLDER[1], time_zone: str = PLACEHOLDER_ZONE
) -> str:
    """
    A short commented config.toml that loads as it is and watches one invented tree.

    latitude, longitude: of the garden, north and east positive. [°]
    time_zone: a name of the IANA database.
    """
    template = (files("carewatch") / "config" / "starter.toml").read_text(encoding="utf-8")
    values = {"LATITUDE": f"{latitude:.4f}", "LONGITUDE": f"{longitude:.4f}", "TIME_ZONE": json.dumps(time_zone)}
    for name, value in values.items():
        template = template.replace(f"@{name}@", value)
    return template
