"""The demo studio: an invented library in the exchange format, opened beside the user's own, never mixed."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import sqlalchemy as sa

from ..errors import LibraryError
from .exchange import LIBRARY_FILE
from .fields import Day, Moment, specs
from .importing import import_library
from .materials import Studio
from .records import KINDS
from .rows import read_records
from .schema import TABLES
from .store import Library, data_folder, open_library

_PACKAGE = Path(__file__).resolve().parents[1]
# In an installed wheel it is inside the package; in the repository it is the folder `swatches` at the top.
_PLACES = (_PACKAGE / "demo_studio", _PACKAGE.parent / "swatches")
TODAY = date(2026, 11, 27)  # the day that the lives of its pieces lead up to


def demo_folder() -> Path:
    """The folder that holds the demo studio in the exchange format; LibraryError when there is none."""
    for place in _PLACES:
        if (place / LIBRARY_FILE).is_file():
            return place
    raise LibraryError(
        "The demo studio was not installed with this copy of the tool. Your own library works without it."
    )


def open_demo(location: str | Path | None = None, *, today: date | None = None) -> Library:
    """Open the demo studio as a library of its own, filled on first use, its days moved up to `today` (None: now).

    location: where to keep it; None: beside the user's own library. What is changed in it stays until
    its folder is removed; it never touches the user's own. Raises LibraryError when the location holds a
    library that is not the demo.
    """
    library = open_library(data_folder().with_name("demo-studio") if location is None else location)
    try:
        studio = library.find_one(Studio, "studio")
        if not any(library.count(kind) for kind in KINDS.values()):
            import_library(library, demo_folder())
            _move_days(library, (today or date.today()) - TODAY)
        elif studio is None or not studio.invented:
            owner = repr(studio.name) if studio else "a studio without a name"
            raise LibraryError(f"{location} holds the library of {owner}, not the demo. Choose another place.")
    except BaseException:
        library.close()
        raise
    return library


def _move_days(library: Library, by: timedelta) -> None:
    """Move every day and moment; a change of the demo itself, so nothing of it goes into the history."""
    with library.database.writing() as connection:
        for kind in KINDS.values():
            dated = [name for name, spec in specs(kind).items() if isinstance(spec, (Day, Moment))]
            for record in read_records(connection, kind) if by and dated else ():
                there = {name: getattr(record, name) for name in dated if getattr(record, name) is not None}
                moved = {name: (moment + by).isoformat() for name, moment in there.items()}
                if moved:
                    table = TABLES[kind.KIND]
                    connection.execute(sa.update(table).where(table.c.uid == record.uid).values(moved))
