"""The command line: the whole colour job without the page. Every command ends in a table of words and numbers.

Bad input is answered with one sentence and exit status 2, never with a traceback.
"""

from .program import main

__all__ = ["main"]
