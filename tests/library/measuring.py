"""Time and memory of something done in a process of its own."""

import resource
import time

from writers import PROCESSES


def in_a_process(function, *arguments):
    """(what it gave, seconds, most memory of the process [GB])."""
    with PROCESSES.Pool(1) as pool:
        return pool.apply(_measured, (function, arguments))


def report(line):
    """Print a figure for the page of figures."""
    print(line)  # noqa: T201


def _measured(function, arguments):
    begin = time.perf_counter()
    found = function(*arguments)
    return found, time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
