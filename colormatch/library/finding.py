"""Finding swatches: by what they are made of, by words, by date, and by nearness in colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypedDict, Unpack, cast

import numpy as np
import sqlalchemy as sa
from numpy.typing import ArrayLike

from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..errors import LibraryError
from ..shade import Shade
from .records import ShadeRecord, Swatch
from .rows import read_records, records_of
from .schema import LINKS, TABLES
from .store import Library
from .values import folded

Colour = tuple[str, str, float, float, float]  # shade uid, swatch uid, L*, a*, b*

_SWATCH, _SHADE = TABLES["swatch"].c, TABLES["shade"].c
# CIEDE2000 weighs lightness by S_L = 1 + 0.015 (L - 50)^2 / sqrt(20 + (L - 50)^2), L the mean of the two; for
# every L* a Shade may have (-0.5..110), S_L < 1.9. Its other terms together are never negative, since |R_T| <
# 2. Two colours further apart in L* than 1.9 d therefore differ by more than d (Sharma, Wu, Dalal, Color Res.
# Appl. 30, 2005).
_STEEPEST_S_L = 1.9
_FIRST_REACH = 2.0  # dE00 looked through first; doubled until enough are found, so only time hangs on it


@dataclass(frozen=True, slots=True)
class Near:
    """A swatch found by colour: the shade that is nearest, and its CIEDE2000 difference."""

    swatch: Swatch
    shade: ShadeRecord
    delta_e: float


class Search(TypedDict, total=False):
    """What a swatch shall satisfy, all of it.

    text: every word occurs in the name, tags or notes, capitals and compatibility characters alike. pigment, cement,
    mould: uids; a pigment or cement counts when it is in the swatch's recipe or tile. since, until: days, both
    included.
    """

    text: str
    pigment: str | None
    cement: str | None
    mould: str | None
    tag: str | None
    since: date | None
    until: date | None


def find(library: Library, *, limit: int | None = None, **wanted: Unpack[Search]) -> list[Swatch]:
    """Swatches that satisfy everything that is wanted (see Search), latest made first, those without a date last."""
    with library.database.reading() as connection:
        query = sa.select(TABLES["swatch"]).where(*_conditions(wanted))
        query = query.order_by(sa.nulls_last(_SWATCH.made_on.desc()), _SWATCH.uid).limit(limit)
        return records_of(connection, Swatch, connection.execute(query).mappings().all())


def find_near(
    library: Library, lab: ArrayLike | Shade, *, state: str = "dry", limit: int = 20, **wanted: Unpack[Search]
) -> list[Near]:
    """The swatches nearest to a colour by CIEDE2000, nearest first, each by its nearest shade in the state.

    lab: (3,) CIELAB, or a Shade. Among those that satisfy everything that is wanted (see Search). The answer is
    exact, not a guess from a box.
    """
    target = (lab if isinstance(lab, Shade) else Shade(lab)).lab
    if limit < 1:
        raise LibraryError(f"The limit is {limit}; ask for at least 1 swatch.")
    conditions = _conditions(wanted)
    with library.database.reading() as connection:
        reach = _FIRST_REACH
        while True:
            within = _STEEPEST_S_L * reach
            band = _SHADE.lab_l.between(float(target[0]) - within, float(target[0]) + within)
            rows = _colours(connection, state, [band, *conditions])
            nearest = _nearest(rows, target, limit)
            everything = within > 200  # no two colours are further apart in L*
            if everything or (len(nearest) == limit and nearest[-1][2] <= reach):
                return _near(connection, nearest)
            reach = max(2 * reach, nearest[-1][2] if len(nearest) == limit else 8 * reach)


def _colours(connection: sa.Connection, state: str, conditions: Sequence[sa.ColumnElement[bool]]) -> Sequence[Colour]:
    """The colours of the shades of swatches in a state."""
    query = (
        sa.select(_SHADE.uid, _SHADE.swatch_uid, _SHADE.lab_l, _SHADE.lab_a, _SHADE.lab_b)
        .join(TABLES["swatch"], _SWATCH.uid == _SHADE.swatch_uid)
        .where(_SHADE.state == state, _SHADE.binned_at.is_(None), *conditions)
    )
    return cast("Sequence[Colour]", connection.execute(query).all())


def _nearest(rows: Sequence[Colour], wanted: FloatArray, limit: int) -> list[tuple[str, str, float]]:
    """(shade uid, swatch uid, difference) of the nearest shade of each of the nearest swatches."""
    if not rows:
        return []
    differences = delta_e_2000(np.array([row[2:] for row in rows], dtype=np.float64), wanted)
    found: dict[str, tuple[str, str, float]] = {}
    for index in np.argsort(differences, kind="stable"):
        shade_uid, swatch_uid = rows[index][0], rows[index][1]
        found.setdefault(swatch_uid, (shade_uid, swatch_uid, float(differences[index])))
        if len(found) == limit:
            break
    return list(found.values())


def _near(connection: sa.Connection, nearest: list[tuple[str, str, float]]) -> list[Near]:
    swatches = {s.uid: s for s in read_records(connection, Swatch, _SWATCH.uid.in_([uid for _, uid, _ in nearest]))}
    shades = {s.uid: s for s in read_records(connection, ShadeRecord, _SHADE.uid.in_([uid for uid, _, _ in nearest]))}
    return [Near(swatches[swatch], shades[shade], difference) for shade, swatch, difference in nearest]


def _conditions(wanted: Search) -> list[sa.ColumnElement[bool]]:
    """One condition for each thing that is wanted."""
    found: list[sa.ColumnElement[bool]] = [_SWATCH.binned_at.is_(None)]
    found += [_SWATCH.searched.contains(word, autoescape=True) for word in folded(wanted.get("text", "")).split()]
    if (pigment := wanted.get("pigment")) is not None:
        found.append(sa.or_(*(_SWATCH[f"{each}_uid"].in_(_with_pigment(each, pigment)) for each in ("recipe", "tile"))))
    if (cement := wanted.get("cement")) is not None:
        on_it = (
            _SWATCH[f"{each}_uid"].in_(sa.select(TABLES[each].c.uid).where(TABLES[each].c.cement_uid == cement))
            for each in ("recipe", "tile")
        )
        found.append(sa.or_(_SWATCH.cement_uid == cement, *on_it))
    if (mould := wanted.get("mould")) is not None:
        found.append(_SWATCH.mould_uid == mould)
    if (tag := wanted.get("tag")) is not None:
        tags = LINKS["swatch", "tags"].c
        found.append(_SWATCH.uid.in_(sa.select(tags.owner_uid).where(tags.item == tag)))
    if (since := wanted.get("since")) is not None:
        found.append(_SWATCH.made_on >= since.isoformat())
    if (until := wanted.get("until")) is not None:
        found.append(_SWATCH.made_on <= until.isoformat())
    return found


def _with_pigment(kind: str, pigment: str) -> sa.Select[tuple[str]]:
    links = LINKS[kind, "loads"].c
    return sa.select(links.owner_uid).where(links.item == pigment, links.amount > 0)
