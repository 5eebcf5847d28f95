"""
Thirty days of hourly forecasts over recorded weather through the running service: `python -m tests.replay [DATA]`.

Runs the service four times: with a person who answers done, the same again, the same with forecasts that are shaken by
a tenth of their spread, and with nobody who answers. Ends with 1 when a rule is broken. `--days 3` for a taste.
"""

import argparse
import sys
import time as stopwatch
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from tests.replay.errors import JITTER, Forecaster
from tests.replay.garden import garden
from tests.replay.judged import difference, lines_of, verdict
from tests.replay.recorded import ABSENT, SHARED, STATIONS, at_hand, weather_of
from tests.replay.watch import Replay, clock_hours, replayed

VARIANTS = ("done", "again", "shaken", "nobody")
# Those that must say what "done" said, and whether to the letter.
COMPARED = {"again": True, "shaken": False}
# Weeks between severing the layer and the beginning.
SEVERED_BEFORE = timedelta(weeks=14)


def main(arguments: Sequence[str] | None = None) -> int:
    """Replay and print the table; 1 if anything is broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.replay", description="Watch recorded weather hour by hour.")
    parser.add_argument("data", nargs="?", type=Path, default=SHARED, metavar="DATA", help="folder of recorded weather")
    parser.add_argument("--station", choices=sorted(STATIONS), default="chicago")
    parser.add_argument("--begins", type=date.fromisoformat, help="first day, UTC (default: before the cold spells)")
    parser.add_argument("--leafed", action="store_true", help="layer and maple were seen opening leaves the day before")
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--every", type=int, default=1, help="hours between looks (default 1)")
    parser.add_argument("--seed", type=int, default=1, help="of the errors of the forecasts")
    parser.add_argument("--only", nargs="+", choices=VARIANTS, default=VARIANTS)
    parser.add_argument("--texts", action="store_true", help="print every message")
    options = parser.parse_args(arguments)
    station = STATIONS[options.station]
    if not at_hand(station, options.data):
        parser.error(ABSENT)
    truth = weather_of(station, options.data)
    first: date = options.begins or station.cold_from
    begins = datetime.combine(first, time.min, UTC) + timedelta(hours=6)
    leafed_on = (first - timedelta(days=1)).isoformat() if options.leafed else ""
    planted = garden((first - SEVERED_BEFORE).isoformat(), leafed_on)

    def run(variant: str) -> Replay:
        forecaster = Forecaster(truth, options.seed, JITTER if variant == "shaken" else 0.0)
        return replayed(
            station, forecaster, begins, clock_hours(options.days, options.every), planted, variant != "nobody"
        )

    began_s = stopwatch.perf_counter()
    found: dict[str, Replay] = {}
    wrong = False
    with ThreadPoolExecutor(2) as pool:
        for variant, replay in zip(options.only, pool.map(run, options.only), strict=True):
            found[variant] = replay
            judged = verdict(replay, variant != "nobody")
            wrong |= bool(judged.broken)
            looks = len(replay.seconds)
            told = [*lines_of(variant, judged)]
            told.append(
                f"  {looks} looks, {sum(replay.seconds) / looks:.2f} s each, at most {max(replay.seconds):.1f} s"
            )
            if options.texts:
                told += [
                    f"{sent.at:%a %d %b %H:%M} {sent.kind}, {sent.severity}\n{sent.text}\n" for sent in replay.sent
                ]
            if variant in COMPARED and "done" in found:
                differing = difference(found["done"], replay, whole=COMPARED[variant])
                wrong |= bool(differing)
                told += [f"{variant}: {'the same messages' if not differing else 'DIFFERS'}", *differing]
            print(*told, sep="\n", flush=True)  # noqa: T201 - what it is for
    print(f"{stopwatch.perf_counter() - began_s:.0f} s")  # noqa: T201
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
