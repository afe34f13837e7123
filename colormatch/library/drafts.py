"""Work in hand: one draft for each (what, key), kept at each change, seen from every device, undone in one step.

Its uid is made from what and key, so that two devices which begin the same work meet in one record: whoever saves
over a change they have not seen gets ConflictError, and nothing is overwritten. Its versions are its undo.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import sqlalchemy as sa

from . import bin as bins
from . import history, writing
from .errors import NotInLibrary
from .plain import checked
from .records import Draft
from .schema import TABLES
from .schema import history as past
from .store import Library
from .values import now, slug

# Judgements: steps back that anyone still wants, and days after which work that was thrown away is not missed.
STEPS_BACK = 50
DAYS_IN_BIN = 30


def draft(library: Library, what: str, key: str = "") -> Draft | None:
    """The work in hand of that name, or None."""
    return library.find_one(Draft, draft_uid(what, key))


def save_draft(
    library: Library,
    what: str,
    key: str = "",
    *,
    content: Mapping[str, Any],
    seen: Draft | None = None,
    title: str = "",
    device: str = "",
) -> Draft:
    """Keep work in hand as it is now; the draft as kept, to be given as `seen` with the next change.

    seen: the draft this change was made from, None for new work. Raises ConflictError when another device has kept
    a change since, or threw it away; `draft` gives what is there now.
    """
    fresh = checked(Draft(uid=draft_uid(what, key), what=what, key=key, title=title, content=content, device=device))
    with library.database.writing() as connection:
        there = writing.existing(connection, Draft, fresh.uid)
        binned = writing.binned_at(connection, Draft.KIND, fresh.uid)
        version = seen.version if seen else 0
        if there and not seen and binned:  # new work on top; undo leads back to the old
            bins.stamp(connection, Draft.KIND, there.uid, None)
            version = there.version
        if there and not binned and (there.content, there.title) == (fresh.content, fresh.title):
            return there  # the same on both devices
        return _keep(connection, replace(fresh, version=version, changed_at=datetime.now(UTC)))


def drop_draft(library: Library, seen: Draft) -> None:
    """Throw work in hand away, or put it by because it is done; undo_draft brings it back.

    What another device has kept since it was seen stays.
    """
    with library.database.writing() as connection:
        stamp, there = now(), writing.present(connection, Draft, seen.uid)
        if there.version != seen.version:
            return
        bins.put_in(connection, Draft, seen.uid, stamp)
        long_ago = datetime.fromisoformat(stamp).astimezone(UTC) - timedelta(days=DAYS_IN_BIN)
        bins.remove(connection, Draft, TABLES[Draft.KIND].c.binned_at < long_ago.isoformat())


def undo_draft(library: Library, what: str, key: str = "") -> Draft:
    """Take the last change back, or bring back what was thrown away; NotInLibrary when there is nothing to undo."""
    with library.database.writing() as connection:
        there = writing.existing(connection, Draft, draft_uid(what, key))
        if there is None:
            raise NotInLibrary(f"There is no work in hand called {what[:60]!r} to undo.")
        if writing.binned_at(connection, Draft.KIND, there.uid):
            bins.stamp(connection, Draft.KIND, there.uid, None)
            return there
        *earlier, _ = (each.number for each in history.versions(connection, Draft, there.uid))
        if not earlier:
            raise NotInLibrary(f"There is no earlier state of {there.title or what!r}; throw it away instead.")
        before = history.version(connection, Draft, there.uid, earlier[-1])
        undone = _keep(connection, replace(before, version=there.version, changed_at=datetime.now(UTC)))
        # Both the state taken back and its copy in the past go, so that the next undo takes one more step.
        _forget(connection, undone, past.c.version >= before.version)
        return undone


def _keep(connection: sa.Connection, changed: Draft) -> Draft:
    kept = writing.keep(connection, changed, now())
    _forget(connection, kept, past.c.version < kept.version - STEPS_BACK)
    return kept


def _forget(connection: sa.Connection, kept: Draft, versions: sa.ColumnElement[bool]) -> None:
    connection.execute(sa.delete(past).where(past.c.kind == Draft.KIND, past.c.uid == kept.uid, versions))


def draft_uid(what: str, key: str) -> str:
    """The uid of a draft."""
    digest = hashlib.sha256(f"{what}\n{key}".encode()).hexdigest()
    return f"{slug(what) or 'draft'}-{digest[:32]}"
