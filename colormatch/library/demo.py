"""The demo studio: an invented library in the exchange format, opened beside the user's own, never mixed."""

from __future__ import annotations

from pathlib import Path

from ..errors import LibraryError
from .exchange import LIBRARY_FILE
from .importing import import_library
from .records import KINDS, Studio
from .store import Library, data_folder, open_library

_PACKAGE = Path(__file__).resolve().parents[1]
# In an installed wheel it is inside the package; in the repository it is the folder `swatches` at the top.
_PLACES = (_PACKAGE / "demo_studio", _PACKAGE.parent / "swatches")


def demo_folder() -> Path:
    """The folder that holds the demo studio in the exchange format; LibraryError when there is none."""
    for place in _PLACES:
        if (place / LIBRARY_FILE).is_file():
            return place
    raise LibraryError(
        "The demo studio was not installed with this copy of the tool. Your own library works without it."
    )


def open_demo(location: str | Path | None = None) -> Library:
    """Open the demo studio as a library of its own, filled on first use.

    location: where to keep it; None: beside the user's own library. What is changed in it stays until
    its folder is removed; it never touches the user's own. Raises LibraryError when the location holds a
    library that is not the demo.
    """
    library = open_library(data_folder().with_name("demo-studio") if location is None else location)
    try:
        studio = library.find_one(Studio, "studio")
        if not any(library.count(kind) for kind in KINDS.values()):
            import_library(library, demo_folder())
        elif studio is None or not studio.invented:
            owner = repr(studio.name) if studio else "a studio without a name"
            raise LibraryError(f"{location} holds the library of {owner}, not the demo. Choose another place.")
    except BaseException:
        library.close()
        raise
    return library
