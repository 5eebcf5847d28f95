"""
Scores of the garden floor on station files: `python -m tests.reference.measured DIR`.

Every file of the folder in a known format is run as open grass; the others are named with the reason.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tests.reference.measured.floor_course import floor_course
from tests.reference.measured.folder import records_in
from tests.reference.measured.record import Record
from tests.reference.measured.scores import CLASSES, LEAST_DAYS, MEASURES, Pairs, Score, interval, pairs_of, score
from tests.reference.measured.uncertain import CHANGES, Change, changed

HEADINGS = ("bias [K]", "RMSE [K]", "hit rate", "false alarms", "CSI")
SIGNED = MEASURES[0]


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the scores of every file; 0 when at least one file was scored, 1 otherwise."""
    parser = argparse.ArgumentParser(prog="python -m tests.reference.measured", description=__doc__)
    parser.add_argument("folder", type=Path, metavar="DIR", help="folder with station files")
    parser.add_argument("--base", action="store_true", help="leave out what changes of constants do")
    chosen = parser.parse_args(arguments)
    scored = 0
    for path, record in records_in(chosen.folder):
        if isinstance(record, str):
            print(f"{path.name}: skipped: {record}\n")
            continue
        report(record, () if chosen.base else CHANGES)
        scored += 1
    print(f"{scored} files scored; intervals hold 95 % of 1000 resamplings of days")
    return 0 if scored else 1


def report(record: Record, changes: Sequence[Change]) -> None:
    """Print everything about one file."""
    what = "surface" if record.target_height_m == 0.0 else f"minimum at {record.target_height_m:g} m"
    print(f"{record.name}: {record.form}, {what} per {record.block_h} h, {int(record.known.sum())} whole hours")
    skies = ["measured"] if "longwave_wm2" in record.inputs else []
    skies += ["from cloud" if "cloud" in record.inputs else "of a clear sky, no cloud recorded"]
    for sky in skies:
        measured = sky == "measured"
        pairs = pairs_of(record, floor_course(record, measured))
        print(f"  longwave {sky}")
        _print_table(pairs)
    measured = skies[0] == "measured"
    for floor in ("soil",) if record.block_h == 1 else ():
        other = pairs_of(record, floor_course(record, measured, floor))
        print(f"  as bare {floor}, longwave {skies[0]}")
        _print_line("all", score(other.model_c, other.recorded_c), None)
        _print_line("nights", _of(other.only(other.night)), None)
    if changes:
        print(f"  what other constants and formulas would give, longwave {skies[0]}: all, then nights")
    for change in changes:
        if measured and change.name.startswith("sky"):
            continue
        with changed(change):
            other = pairs_of(record, floor_course(record, measured))
        nights = _of(other.only(other.night))
        print(f"    {change.name:<36} {_short(_of(other))}   nights {_short(nights)}  ({change.source})")
    print()


def _of(pairs: Pairs) -> Score:
    return score(pairs.model_c, pairs.recorded_c)


def _print_table(pairs: Pairs) -> None:
    print("    " + f"{'':<22}{'pairs':>6}{'frosts':>8}  " + "".join(f"{heading:<26}" for heading in HEADINGS))
    nights = pairs.only(pairs.night)
    for name, part in (("all", pairs), ("nights", nights)):
        _print_line(f"{name}: model", _of(part), interval(part, lambda chosen: chosen.model_c))
        _print_line(
            f"{name}: air itself", score(part.plain_c, part.recorded_c), interval(part, lambda chosen: chosen.plain_c)
        )
    for kind in CLASSES:
        part = nights.only(nights.kind == kind)
        if part.model_c.size:
            _print_line(f"nights, {kind}", _of(part), None)
    for hour in np.unique(pairs.hour):
        part = pairs.only(pairs.hour == hour)
        if part.model_c.size >= LEAST_DAYS:
            _print_line(f"ending at {hour:02d} h", _of(part), None)


def _print_line(name: str, found: Score, spread: dict[str, tuple[float, float]] | None) -> None:
    cells = []
    for measure in MEASURES:
        sign = "+" if measure == SIGNED else ""
        value = getattr(found, measure)
        text = "-" if np.isnan(value) else f"{value:{sign}.2f}"
        if spread is not None and not np.isnan(value):
            low, high = spread[measure]
            text += f" ({low:{sign}.2f} to {high:{sign}.2f})"
        cells.append(f"{text:<26}")
    print(f"    {name:<22}{found.count:>6.0f}{found.frosts:>8.0f}  " + "".join(cells).rstrip())


def _short(found: Score) -> str:
    csi = "  -  " if np.isnan(found.csi) else f"{found.csi:.3f}"
    return f"bias {found.bias_k:+.2f} RMSE {found.rmse_k:.2f} CSI {csi}"


if __name__ == "__main__":
    sys.exit(main())
