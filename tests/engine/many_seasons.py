"""`make seasons`: a million random rider-weeks against the safety properties, I1 to I15.

    python -m tests.engine.many_seasons --weeks 1000000

Seasons of 30 weeks are lived from consecutive seeds, so that each line printed is enough to live its season again.
Every week is held to every promise of `promises` and to `safety`; of the pairs of weeks in `trials`, and of writing a
week down and replaying it, one is drawn a week, since each costs several decisions. The gate tries them all, on fewer
weeks.

How far it came is kept in a file with what was found, so that a run that is stopped goes on where it was. It begins
anew when the engine or its tests have changed. Ends with 1 when anything was broken.
"""

import argparse
import hashlib
import json
import multiprocessing
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, field
from functools import partial
from pathlib import Path
from random import Random

from tests.engine.seasons import Season
from tests.engine.shipped import shipped
from tests.engine.trials import try_week

ROOT = Path(__file__).parents[2]
WEEKS_OF_A_SEASON = 30
#: The first seeds of the gate, and of the long run, so that they try different seasons.
GATE_SEED, FIRST_SEED = 10_000, 1_000_000
#: Seasons that a process lives before it tells what came of them.
AT_ONCE = 8
#: Lines of what was broken that are kept: one is enough to stop for, a thousand say no more.
MOST_LINES = 1000


def violations(seed: int, weeks: int, *, whole: bool = True) -> Iterator[str]:
    """What the season of that seed breaks, a line each, with where: the line is enough to live it again."""
    for number, lived in enumerate(Season.begin(shipped(), Random(seed)).live(weeks)):
        for line in try_week(lived, Random(f"trials {seed} {number}"), shipped(), whole=whole):
            yield f"{line} (season {seed}, week {number})"


def live_season(seed: int, *, whole: bool) -> list[str]:
    """What one season of 30 weeks breaks."""
    return list(violations(seed, WEEKS_OF_A_SEASON, whole=whole))


def live_seasons(seeds: Iterable[int], *, whole: bool, processes: int = 2) -> Iterator[list[str]]:
    """What each season breaks, in the order of the seeds, whatever the number of processes."""
    with ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn")) as pool:
        yield from pool.map(partial(live_season, whole=whole), seeds, chunksize=AT_ONCE)


@dataclass
class Record:
    """How far a run came: what it was run on, how many weeks, in how many seconds of working, and what was broken."""

    tried: str
    weeks: int = 0
    seconds: float = 0.0
    broken: list[str] = field(default_factory=list)
    broken_count: int = 0

    @classmethod
    def read(cls, path: Path, tried: str) -> "Record":
        """The record in the file when it is one of the same code, else one of nothing yet."""
        try:
            record = cls(**json.loads(path.read_text()))
        except (OSError, ValueError, TypeError):
            return cls(tried)
        return record if record.tried == tried else cls(tried)

    def add(self, lines: Sequence[str]) -> None:
        self.weeks += WEEKS_OF_A_SEASON
        self.broken_count += len(lines)
        self.broken += lines[: MOST_LINES - len(self.broken)]

    def write(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_suffix(".new")
        unfinished.write_text(json.dumps(asdict(self), indent=1))
        unfinished.replace(path)

    def line(self, of: int) -> str:
        rate = self.weeks / self.seconds if self.seconds else 0.0
        left = (of - self.weeks) / rate / 60 if rate else 0.0
        return (
            f"{self.weeks:,} of {of:,} rider-weeks, {self.broken_count} violations, {self.seconds / 60:.1f} min, "
            f"{rate:,.0f} a second, {left:.0f} min to go"
        )


def code_tried() -> str:
    """A digest of the engine, the library and the trials: of what a run's result is about."""
    files = [
        path
        for folder in ("programs/engine", "athletes", "fixtures/exercises", "tests/engine")
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in {".py", ".yaml"} and not path.name.startswith("test_")
    ]
    digest = hashlib.sha256()
    for path in files:
        digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def run(weeks: int, path: Path, processes: int) -> int:
    """Lives seasons until so many weeks are lived in all, and returns how many things were broken."""
    record = Record.read(path, code_tried())
    if record.weeks:
        print(f"Going on: {record.line(weeks)}", flush=True)
    first = FIRST_SEED + record.weeks // WEEKS_OF_A_SEASON
    last = FIRST_SEED + -(-weeks // WEEKS_OF_A_SEASON)
    worked, at, told = record.seconds, time.monotonic(), 0.0
    for seed, lines in zip(
        range(first, last), live_seasons(range(first, last), whole=False, processes=processes), strict=True
    ):
        record.add(lines)
        record.seconds = worked + time.monotonic() - at
        for line in lines[:20]:
            print(line, flush=True)
        if record.seconds - told > 5 or seed == last - 1:
            told = record.seconds
            record.write(path)
            print(record.line(weeks), flush=True)
    print(f"Done: {record.line(weeks)}")
    return record.broken_count


def main() -> int:
    parser = argparse.ArgumentParser(
        prog="python -m tests.engine.many_seasons", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--weeks", type=int, default=1_000_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--state", type=Path, default=ROOT / ".state" / "seasons.json")
    given = parser.parse_args()
    return 1 if run(given.weeks, given.state, given.processes) else 0


if __name__ == "__main__":
    sys.exit(main())
