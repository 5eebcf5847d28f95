"""Pictures of the messages of a cycle: drawn before anything is stored, within a time limit, and done without."""

import logging
from collections.abc import Callable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.picture import PICTURED, Picture, picture_of
from carewatch.daemon.decide import Decided
from carewatch.daemon.job import Judged
from carewatch.sqlite.pictures import LARGEST, KeptPicture
from carewatch.worker.host import TaskFailed

LOG = logging.getLogger(__name__)

# How the worker is told to call `draw_picture`.
DRAW = "carewatch.daemon.pictures.draw_picture"
# A message does not wait longer for its picture. Estimate: a second here; ten on a slow board that has to look for its
# fonts first. [s]
DRAW_LIMIT_S = 30.0


def draw_picture(picture: Picture) -> bytes:
    """The picture as a PNG file. Loads matplotlib: for the worker's process, or one that ends soon."""
    # Without a home of its own it would write about the folder that it makes for its list of fonts.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    from carewatch.charts.forecast_png import forecast_png

    return forecast_png(picture)


def drawn(
    foreseen: Decided, judged: Judged, now: datetime, time_zone: str, draw: Callable[[Picture], bytes]
) -> Mapping[str, KeptPicture]:
    """
    By notice, the pictures of those that are new, ask for work, and go out on some channel.

    foreseen: what would be decided on this judgement; the notices that are then really made have the same ids.
    draw: raises TaskFailed. A picture that cannot be drawn is left out: the message says everything without it.
    """
    going = {row.notice for row in foreseen.change.queued}
    here = now.astimezone(ZoneInfo(time_zone))
    pictures: dict[str, KeptPicture] = {}
    for notice in foreseen.new:
        if notice.kind not in PICTURED or notice.id not in going:
            continue
        trees = {line.tree for line in notice.lines}
        try:
            picture = picture_of(trees, judged.calls, judged.courses, here)
            if picture is None:
                continue
            png = draw(picture)
        except TaskFailed as failed:
            LOG.warning("No picture for notice %s: %s", notice.id, failed.reason)
        except Exception:
            LOG.exception("No picture for notice %s", notice.id)
        else:
            if len(png) > LARGEST:
                LOG.warning("No picture for notice %s: it has %d bytes", notice.id, len(png))
                continue
            pictures[notice.id] = KeptPicture(png, picture.caption)
    return pictures
