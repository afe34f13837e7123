"""What can go wrong, as one tree.

    ColormatchError
    ├── InputError            a value, shape or range that cannot be used
    │   └── LoadError         a pigment load that is negative, not a number, or over its limit
    ├── UnknownNameError      a pigment, base, state or illuminant nobody has heard of
    ├── PhotoError            a file that is not a usable picture, or a region outside it
    │   └── ReferenceNotFound the chart or card is not in the picture, or was sampled wrongly
    ├── LearningError         tiles that cannot be learned from
    ├── RecipeError           limits under which no recipe can exist
    └── LibraryError          the swatch library could not be opened, read or written

Every message says what was wrong, the value, the allowed range, and what to do next, in words a
maker can act on: the page and the command line show it as it stands.
"""


class ColormatchError(ValueError):
    """Any error this package raises on purpose."""


class InputError(ColormatchError):
    """A value, shape or range that cannot be used."""


class LoadError(InputError):
    """A pigment load that is negative, not a number, or over its limit."""


class UnknownNameError(ColormatchError):
    """A name that is not in the palette, the states or the illuminants."""

    def __init__(self, kind: str, name: object, known: object) -> None:
        choices = ", ".join(str(k) for k in known) if hasattr(known, "__iter__") else str(known)
        rest = f"Choose one of: {choices}." if choices else f"There is no {kind} at all; add one."
        super().__init__(f"There is no {kind} called {name!r}. {rest}")


class PhotoError(ColormatchError):
    """A file that is not a usable picture, or a region outside it."""


class ReferenceNotFound(PhotoError):
    """The chart or card is not in the picture, or a patch of it was sampled wrongly."""


class LearningError(ColormatchError):
    """Tiles that cannot be learned from."""


class RecipeError(ColormatchError):
    """Limits under which no recipe can exist."""


class LibraryError(ColormatchError):
    """The swatch library could not be opened, read or written."""
