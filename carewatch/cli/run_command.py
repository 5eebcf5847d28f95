"""`run`: the service, until it is stopped. It prints by itself: what other commands print with loads pandas."""

import sys
from collections.abc import Iterable, Mapping
from datetime import datetime

from carewatch.config.load import Loaded, find_config, load
from carewatch.config.problems import ConfigErrors, told_once
from carewatch.config.tables import load_tables
from carewatch.daemon.clock import ClockUnusable, clock_of
from carewatch.daemon.fault import FaultUnknown, fault_of
from carewatch.daemon.service import serve
from carewatch.daemon.wiring import ServiceRefused
from carewatch.sqlite.refused import StoreRefused

FINE, FAILED, MISUSED = 0, 1, 2


def run(explicit: str | None, environ: Mapping[str, str]) -> int:
    """Run the service until SIGTERM or SIGINT; what keeps it from starting is told on standard error, all at once."""
    try:
        clock, fault = clock_of(environ), fault_of(environ)
        tables = load_tables()
        found = find_config(explicit, environ)

        def read(now: datetime) -> Loaded:
            return load(found, environ, now, tables)

        loaded = read(clock.now())
        _told(f"warning: {warning}" for warning in loaded.warnings)
        serve(loaded, tables, environ, clock, fault, read)
    except ConfigErrors as refused:
        _told([*told_once(refused.problems), *(f"warning: {warning}" for warning in refused.warnings)])
        _told(["The service was not started and nothing was written."])
        return MISUSED
    except (ClockUnusable, FaultUnknown, ServiceRefused) as refused:
        _told([str(refused)])
        return MISUSED
    except StoreRefused as refused:
        _told([f"{refused.reason}."])
        return FAILED
    return FINE


def _told(lines: Iterable[str]) -> None:
    for line in lines:
        sys.stderr.write(f"{line}\n")
