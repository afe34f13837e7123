"""Pigment colour matching for cast cement: photographs to shades, shades to grams, wet to dry.

The public names stand in `__init__.pyi`, once for people, type checkers and this file alike. Each is loaded on first
use, so that `import colormatch` stays quick.
"""

import lazy_loader

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
