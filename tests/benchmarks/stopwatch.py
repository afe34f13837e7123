"""The stopwatch of the benchmarks: times that are only ever compared with each other."""

from collections.abc import Callable
from time import process_time


def seconds(work: Callable[[], object], times: int = 5) -> float:
    """Processor seconds, the least of several runs: the others measure what else the machine was doing."""
    taken = []
    for _ in range(times):
        start = process_time()
        work()
        taken.append(process_time() - start)
    return min(taken)
