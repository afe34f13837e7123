"""Something done in a process of its own: its time and memory measured, or held to a limit."""

import resource
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from writers import PROCESSES

PATIENCE_S = 300


def in_a_process(function, *arguments):
    """(what it gave, seconds, most memory of the process [GB])."""
    with ProcessPoolExecutor(1, mp_context=PROCESSES) as pool:
        return pool.submit(_measured, function, arguments).result(timeout=3600)


def within(seconds, gigabytes, function, *arguments):
    """What it gave; the system ends it, and this raises, over that much processor time or memory of its own."""
    with ProcessPoolExecutor(1, mp_context=PROCESSES) as pool:
        return pool.submit(_limited, seconds, gigabytes, function, arguments).result(timeout=PATIENCE_S)


def _measured(function, arguments):
    begin = time.perf_counter()
    found = function(*arguments)
    return found, time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


def _limited(seconds, gigabytes, function, arguments):
    held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    for what, most in (
        (resource.RLIMIT_AS, held + int(gigabytes * 1e9)),
        (resource.RLIMIT_CPU, int(time.process_time()) + 1 + seconds),
    ):
        resource.setrlimit(what, (most, most))
    return function(*arguments)
