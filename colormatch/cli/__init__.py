"""The command line: the whole colour job without the page. Every command ends in a table of words and numbers.

Bad input is answered with one sentence and exit status 2, never with a traceback.
"""

import os
from collections.abc import Sequence

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its exit status: 0 done, 2 for input that cannot be used."""
    # The matrices here are small: a second thread of linear algebra waits more than it works. Read when numpy is
    # first imported, so set before anything of ours is: on two cores `colormatch demo` took 1.6 s of
    # processor time instead of 2.2 s.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        from .program import run
    except KeyboardInterrupt:  # stopped while still loading
        raise SystemExit(130) from None
    run(arguments)
