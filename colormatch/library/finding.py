"""Finding swatches: by what they are made of, by words, by date, and by nearness in colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast

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
_FIRST_REACH = 2.0


@dataclass(frozen=True, slots=True)
class Near:
    """A swatch found by colour: the shade that is nearest, and its CIEDE2000 difference."""

    swatch: Swatch
    shade: ShadeRecord
    delta_e: float


def find(
    library: Library,
    *,
    text: str = "",
    pigment: str | None = None,
    cement: str | None = None,
    mould: str | None = None,
    tag: str | None = None,
    since: date | None = None,
    until: date | None = None,
    limit: int | None = None,
) -> list[Swatch]:
    """Swatches that satisfy everything that is given, latest made first, those without a date last.

    text: every word occurs in the name, tags or notes, capitals and compatibility characters alike. pigment,
    cement, mould: uids; a pigment or cement counts when it is in the swatch's recipe or tile. since, until:
    days, both included.
    """
    conditions = _conditions(text, pigment, cement, mould, tag, since, until)
    with library.database.reading() as connection:
        query = sa.select(TABLES["swatch"]).where(*conditions)
        query = query.order_by(sa.nulls_last(_SWATCH.made_on.desc()), _SWATCH.uid).limit(limit)
        return records_of(connection, Swatch, connection.execute(query).mappings().all())


def find_near(
    library: Library,
    lab: ArrayLike,
    *,
    state: str = "dry",
    limit: int = 20,
    text: str = "",
    pigment: str | None = None,
    cement: str | None = None,
    mould: str | None = None,
    tag: str | None = None,
    since: date | None = None,
    until: date | None = None,
) -> list[Near]:
    """The swatches nearest to a colour by CIEDE2000, nearest first, each by its nearest shade in the state.

    lab: (3,) CIELAB, or a Shade. The other arguments as for find. The answer is exact, not a guess from a
    box.
    """
    wanted = Shade(getattr(lab, "lab", lab)).lab
    if limit < 1:
        raise LibraryError(f"The limit is {limit}; ask for at least 1 swatch.")
    conditions = _conditions(text, pigment, cement, mould, tag, since, until)
    with library.database.reading() as connection:
        reach = _FIRST_REACH
        while True:
            within = _STEEPEST_S_L * reach
            band = _SHADE.lab_l.between(float(wanted[0]) - within, float(wanted[0]) + within)
            rows = _colours(connection, state, [band, *conditions])
            nearest = _nearest(rows, wanted, limit)
            everything = within > 200
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


def _conditions(
    text: str,
    pigment: str | None,
    cement: str | None,
    mould: str | None,
    tag: str | None,
    since: date | None,
    until: date | None,
) -> list[sa.ColumnElement[bool]]:
    conditions: list[sa.ColumnElement[bool]] = [_SWATCH.binned_at.is_(None)]
    conditions += [_SWATCH.searched.contains(word, autoescape=True) for word in folded(text).split()]
    if pigment is not None:
        conditions.append(
            sa.or_(*(_SWATCH[f"{kind}_uid"].in_(_with_pigment(kind, pigment)) for kind in ("recipe", "tile")))
        )
    if cement is not None:
        made_on_it = (
            _SWATCH[f"{kind}_uid"].in_(sa.select(TABLES[kind].c.uid).where(TABLES[kind].c.cement_uid == cement))
            for kind in ("recipe", "tile")
        )
        conditions.append(sa.or_(_SWATCH.cement_uid == cement, *made_on_it))
    if mould is not None:
        conditions.append(_SWATCH.mould_uid == mould)
    if tag is not None:
        tags = LINKS["swatch", "tags"].c
        conditions.append(_SWATCH.uid.in_(sa.select(tags.owner_uid).where(tags.item == tag)))
    if since is not None:
        conditions.append(_SWATCH.made_on >= since.isoformat())
    if until is not None:
        conditions.append(_SWATCH.made_on <= until.isoformat())
    return conditions


def _with_pigment(kind: str, pigment: str) -> sa.Select[tuple[str]]:
    links = LINKS[kind, "loads"].c
    return sa.select(links.owner_uid).where(links.item == pigment, links.amount > 0)
