"""A saved answer of a weather service, from a file: for tests, demonstrations, hindcasts, life without a network."""

import gzip
import zlib
from pathlib import Path

from carewatch.forecast.raw import RawForecast
from carewatch.weather_api.decode import BODY_CAP_BYTES, decode_json
from carewatch.weather_api.met_norway_parse import is_met_norway, parse_met_norway
from carewatch.weather_api.parse import parse_open_meteo
from carewatch.weather_api.refused import SourceRefused

_GZIP_MAGIC = b"\x1f\x8b"


def read_recorded(path: Path) -> RawForecast:
    """
    The forecast that the file holds, with source "recorded".

    path: a .json or .json.gz file with one answer of Open-Meteo or MET Norway, as the service sent it.

    Raises SourceRefused, never transient: missing, unreadable, cut off, too large, a web page, or an answer that cannot
    be used.
    """
    origin = f"the file {path}"
    document = decode_json(_content(path, origin), origin, transient=False)
    if is_met_norway(document):
        return parse_met_norway(document, source="recorded", origin=origin)
    return parse_open_meteo(document, source="recorded", origin=origin)


def _content(path: Path, origin: str) -> bytes:
    """The bytes of the file, uncompressed. What it is shows in its first bytes, whatever it is called."""
    try:
        with path.open("rb") as plain:
            packed = plain.read(2) == _GZIP_MAGIC
            plain.seek(0)
            if packed:
                with gzip.GzipFile(fileobj=plain) as unpacked:
                    content = unpacked.read(BODY_CAP_BYTES + 1)
            else:
                content = plain.read(BODY_CAP_BYTES + 1)
    except FileNotFoundError:
        raise SourceRefused(f"{origin} does not exist", transient=False) from None
    except IsADirectoryError:
        raise SourceRefused(f"{origin} is a folder; the recorded answer itself is wanted", transient=False) from None
    except EOFError:
        raise SourceRefused(f"{origin} is cut off (its compressed data ends too early)", transient=False) from None
    except (gzip.BadGzipFile, zlib.error):
        raise SourceRefused(f"{origin} is damaged (its compressed data cannot be unpacked)", transient=False) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        raise SourceRefused(f"{origin} cannot be read: {reason.lower()}", transient=False) from None
    if len(content) > BODY_CAP_BYTES:
        raise SourceRefused(f"{origin} is larger than {BODY_CAP_BYTES // 1024**2} MB", transient=False)
    return content
