"""Two tones as work in hand: what can be a tone, which go together, and how the piece looks."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import streamlit as st

from colormatch.bench.batch import Tone
from colormatch.colorimetry import lab_to_hex
from colormatch.design import LibraryShade, Partner, partners
from colormatch.library import RecipeRecord
from colormatch.loads import Mix
from colormatch.palette import Palette
from colormatch.render import piece_picture
from colormatch.saying import shade_name
from colormatch.screens.state import studio
from colormatch.screens.studios import library, offered
from colormatch.screens.tapping import Card
from colormatch.screens.work import Work
from colormatch.workshop.shelf import limits

OF_EACH = 2  # suggestions of each relation and origin
_WHERE = {"library": "yours", "reach": "from your jars"}


@dataclass(frozen=True, slots=True)
class Named:
    """A mix with the name it is called by."""

    name: str
    mix: Mix

    def plain(self) -> dict[str, Any]:
        """As a draft keeps it."""
        return {"name": self.name, "base": self.mix.base, "loads": dict(self.mix.loads)}


def named(content: object) -> Named | None:
    """A tone as a draft keeps it; None for anything else."""
    if not isinstance(content, Mapping) or not content.get("base"):
        return None
    return Named(str(content.get("name", "")), Mix.of(content["base"], content.get("loads", {})))


def pair(first: Named, second: Named | None = None) -> None:
    """Begin a design with these tones, in place of what was in hand."""
    Work("design").put(first=first.plain(), second=None if second is None else second.plain(), share=None)


def tones_to_choose(known: Palette) -> dict[str, Named]:
    """What is on her shelf to be a tone, by a key: recipes of her swatches, then bare cement."""
    found: dict[str, Named] = {}
    seen: set[tuple[object, ...]] = set()
    for record in library().list(RecipeRecord):
        content = (record.cement_uid, *sorted(record.loads.items()))
        if record.cement_uid in known.bases and set(record.loads) <= set(known.pigments) and content not in seen:
            seen.add(content)
            found[record.uid] = Named(record.name, Mix.of(record.cement_uid, record.loads))
    for name, base in known.bases.items():
        found[f"bare {name}"] = Named(f"{base.label}, no pigment", Mix.of(name, {}))
    return found


def going_with(first: Named, shared: str = "") -> tuple[Partner, ...]:
    """What goes with a tone, hers first; worked out again only when the tone or what is known has changed.

    shared: a pigment that the second tone has to hold as well.
    """
    known, slot = offered(), f"partners|{studio()}"
    stamp = (first.mix.base, tuple(sorted(first.mix.loads.items())), shared, tuple(tones_to_choose(known)))
    kept = st.session_state.get(slot)
    if kept is None or kept[0] is not known or kept[1] != stamp:
        with st.spinner("Looking for what goes with it"):
            kept = (known, stamp, _look(known, first, shared))
        st.session_state[slot] = kept
    found: tuple[Partner, ...] = kept[2]
    return found


def _look(known: Palette, first: Named, shared: str) -> tuple[Partner, ...]:
    if first.mix.base not in known.bases or not set(first.mix.loads) <= set(known.pigments):
        return ()
    own = [
        LibraryShade(each.name, known.predict(each.mix.loads, each.mix.base), each.mix.base, each.mix.loads)
        for each in tones_to_choose(known).values()
        if each.mix.loads and (not shared or shared in each.mix.loads)
    ]
    allowed = replace(limits(library(), known), must_use=[shared] if shared else [])
    return partners(
        known, dict(first.mix.loads), base=first.mix.base, library=own, limits=allowed, count=OF_EACH
    )  # fmt: skip


def partner_cards(found: Sequence[Partner]) -> list[Card]:
    """Partners to tap; the key is the place in `found`."""
    return [
        Card(
            str(place), each.name, (f"{each.relation}, {_WHERE[each.origin]}",), (lab_to_hex(each.shade.lab),),
            alt=shade_name(each.shade.lab),
        )
        for place, each in enumerate(found)
    ]  # fmt: skip


def of_partner(partner: Partner) -> Named:
    """A partner as a tone."""
    return Named(partner.name, Mix.of(partner.base, partner.loads))


def drawn(
    known: Palette, tones: Sequence[Tone], *, form: str, pattern: str, state: str = "dry", seed: int = 1, size: int
) -> bytes:
    """A JPEG of the piece in a state, drawn once for the same question."""
    labs = tuple(tuple(float(x) for x in known.predict(tone.mix.loads, tone.mix.base, state).lab) for tone in tones)
    return _drawn(form, pattern, labs, state, tones[1].share, seed, size)


@st.cache_data(max_entries=200, show_spinner=False)
def _drawn(
    form: str, pattern: str, labs: tuple[tuple[float, ...], ...], state: str, share: float, seed: int, size: int
) -> bytes:
    stream = io.BytesIO()
    picture = piece_picture(form, pattern, labs[0], labs[1], state=state, share_two=share, seed=seed, size=size)
    picture.save(stream, "JPEG", quality=90)
    return stream.getvalue()


def as_url(image: bytes) -> str:
    """A JPEG as a data URL."""
    return "data:image/jpeg;base64," + base64.b64encode(image).decode("ascii")
