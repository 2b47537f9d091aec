"""How benchmarks measure: pairs of runs, one beside the other, and the most memory a work takes."""

from __future__ import annotations

import gc
import multiprocessing
import re
import resource
import statistics
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

from django.db import connection

from tests.benchmarks.databases import Databases, Filled

Work = Callable[[], Any]
# So long pairs are run again; the first few always are, for one says nothing of what it varies by.
MOST_SECONDS = 30.0
LEAST_PAIRS, MOST_PAIRS = 3, 31
MEBIBYTE = 1024.0**2


@dataclass(frozen=True)
class Pairs:
    """Seconds that ours took and the other took, pair by pair."""

    ours_s: tuple[float, ...]
    other_s: tuple[float, ...]

    @property
    def ratios(self) -> list[float]:
        return sorted(ours / other for ours, other in zip(self.ours_s, self.other_s, strict=True))

    @property
    def ratio(self) -> float:
        """The median of the ratios of pairs: what slows the machine slows both of a pair."""
        return statistics.median(self.ratios)

    def words(self, ours: str, other: str) -> str:
        """Return the medians and how far the ratios lie apart."""
        ours_ms, other_ms = (1000.0 * statistics.median(x) for x in (self.ours_s, self.other_s))
        return (
            f"{ours} {ours_ms:,.1f} ms, {other} {other_ms:,.1f} ms; ratios of {len(self.ratios)} "
            f"pairs {self.ratios[0]:.2f} to {self.ratios[-1]:.2f}"
        )


@dataclass
class Run:
    """What a benchmark is run with: its databases, and whether it is only to show that it works.

    broken: promises of memory that did not hold, in words.
    """

    databases: Databases
    is_fast: bool
    broken: list[str] = field(default_factory=list)

    def size(self, full: int, fast: int) -> int:
        """Return how many of something a benchmark takes."""
        return fast if self.is_fast else full

    def tell(self, words: str) -> None:
        """Say something beside the figures, which alone go to standard output."""
        print(f"  {words}", file=sys.stderr, flush=True)

    def paired(self, ours: Work, other: Work, *, warm: bool = True) -> Pairs:
        """Run two works in turn, the first of a pair the second of the next.

        A work may return the seconds it took, where not all it does counts. warm: whether each
        runs once before, uncounted, as whatever reads through caches does.
        """
        if warm and not self.is_fast:
            ours()
            other()
        ours_s: list[float] = []
        other_s: list[float] = []
        begun = perf_counter()
        least, most = (1, 1) if self.is_fast else (LEAST_PAIRS, MOST_PAIRS)
        while len(ours_s) < least or (
            len(ours_s) < most and (perf_counter() - begun) * (1 + 1 / len(ours_s)) < MOST_SECONDS
        ):
            if len(ours_s) % 2:
                ours_s.append(_seconds(ours))
                other_s.append(_seconds(other))
            else:
                other_s.append(_seconds(other))
                ours_s.append(_seconds(ours))
        return Pairs(tuple(ours_s), tuple(other_s))

    def memory(
        self,
        what: str,
        sizes: tuple[int, int],
        work_on: Callable[[int], tuple[Filled[Any], Work]],
        most_bytes_each: float,
    ) -> None:
        """Tell the most memory a work takes, and by how much it grows with each entry.

        work_on: of so many entries, where they are and the work. most_bytes_each: the slope that
        is promised.
        """
        few, many = (_most_memory(*work_on(size)) for size in sizes)
        each = (many - few) / (sizes[1] - sizes[0])
        words = (
            f"memory of {what}: {few / MEBIBYTE:.1f} MiB for {sizes[0]:,}, {many / MEBIBYTE:.1f} "
            f"MiB for {sizes[1]:,}: {each:,.0f} bytes each, promised at most {most_bytes_each:,.0f}"
        )
        self.tell(words)
        # Of a few, what grows is mostly what is loaded once.
        if each > most_bytes_each and not self.is_fast:
            self.broken.append(words)


def _seconds(work: Work) -> float:
    # Nothing of the run before is left to collect.
    gc.collect()
    begun = _now_s()
    told = work()
    took = _now_s() - begun
    return told if isinstance(told, float) else took


def timed(work: Work) -> float:
    """Return the seconds that a work takes, for one that has more to do which doesn't count."""
    begun = _now_s()
    work()
    return _now_s() - begun


def _now_s() -> float:
    """Return the seconds that pass where a server keeps the records; else those worked.

    SQLite works in this process: what its processor worked is the same however many others a
    machine works for. With what processes begun here worked, once they have ended.
    """
    if connection.vendor != "sqlite":
        return perf_counter()
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return process_time() + children.ru_utime + children.ru_stime


def _most_memory(filled: Filled[Any], work: Work) -> int:
    """Return by how many bytes a process of its own grows at the most while it does a work."""
    context = multiprocessing.get_context("fork")
    receiving, sending = context.Pipe(duplex=False)

    def measure() -> None:
        # A connection to a database outlives no fork.
        with filled.opened_anew():
            gc.collect()
            # The kernel counts the most from now on.
            Path("/proc/self/clear_refs").write_text("5")
            before = _resident("VmRSS")
            work()
            sending.send(_resident("VmHWM") - before)

    process = context.Process(target=measure)
    process.start()
    process.join()
    if not receiving.poll():
        raise RuntimeError(f"the work whose memory is measured failed ({process.exitcode})")
    grown: int = receiving.recv()
    return max(grown, 0)


def _resident(name: str) -> int:
    status = Path("/proc/self/status").read_text()
    found = re.search(rf"{name}:\s+(\d+) kB", status)
    assert found is not None
    return int(found[1]) * 1024


@dataclass(frozen=True)
class Benchmark:
    """A promise: its name, what its ratio is of, and the most it may be."""

    name: str
    what: str
    goal: float
    measure: Callable[[Run], Pairs]
    sides: tuple[str, str]


BENCHMARKS: dict[str, Benchmark] = {}
Measure = Callable[[Run], Pairs]


def benchmark(
    name: str, what: str, *, goal: float, sides: tuple[str, str] = ("ours", "bare")
) -> Callable[[Measure], Measure]:
    """Make a function a benchmark of a name. sides: what the two of a pair are called."""

    def take(measure: Measure) -> Measure:
        BENCHMARKS[name] = Benchmark(name, what, goal, measure, sides)
        return measure

    return take
