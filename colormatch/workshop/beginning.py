"""The first day: what a new studio still lacks, as a list that ticks itself off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..library import Library, Mould, RecipeRecord, ShadeRecord
from ..studio import MEASURED
from .shelf import shelf, studio_of
from .tile_list import FIRST_TILES

Name = Literal["cement", "jars", "mould", "scale", "tiles", "match"]


@dataclass(frozen=True, slots=True)
class FirstStep:
    """One step of the first day; note: how far it is, or what to do."""

    name: Name
    words: str
    note: str
    done: bool


def first_steps(library: Library) -> tuple[FirstStep, ...]:
    """The first day in order; each step is done as soon as the library holds what it asks for."""
    here = shelf(library)
    moulds = library.list(Mould)
    cast = len({shade.tile_uid for shade in library.list(ShadeRecord) if shade.tile_uid and _measured(shade)})
    cements, jars, filled = (", ".join(each.name for each in part) for part in (here.cements, here.pigments, moulds))
    step_g = studio_of(library).settings.get("scale_step_g")
    return (
        FirstStep("cement", "Your cement", cements or "the bag you cast with", bool(here.cements)),
        FirstStep("jars", "Your jars", jars or "the name on the lid is enough", bool(here.pigments)),
        FirstStep("mould", "A mould", filled or "fill it with water and weigh the water", bool(moulds)),
        FirstStep("scale", "Your scale", f"shows {step_g} g" if step_g else "the smallest step it shows", bool(step_g)),
        FirstStep(
            "tiles", "Five small tiles", f"{cast} so far" if cast else "what to weigh for each, one photograph of all",
            cast >= FIRST_TILES,
        ),
        FirstStep("match", "Match a shade", "photograph it beside a chart", bool(library.list(RecipeRecord))),
    )  # fmt: skip


def settled(library: Library) -> bool:
    """Whether the first day is over: tiles are no must, everything else is there."""
    return all(step.done for step in first_steps(library) if step.name != "tiles")


def _measured(shade: ShadeRecord) -> bool:
    return shade.provenance.get("kind") == MEASURED
