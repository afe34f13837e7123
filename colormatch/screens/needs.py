"""How each thing that waits is shown: the word on its button, where it leads, and the shade it is about."""

from __future__ import annotations

from colormatch.library import Draft
from colormatch.screens.blocks import chip
from colormatch.screens.kept_shades import labs_of_batch, labs_of_piece
from colormatch.screens.routes import turn_to
from colormatch.screens.studios import library
from colormatch.workshop.today import Kind, Need

_WORDS: dict[Kind, str] = {
    "weighing": "Continue weighing", "pour": "Note it", "demould": "Check", "weigh": "Weigh", "measure": "Photograph",
    "seal": "Seal", "stock": "Look", "lot": "Answer", "learn": "Learn", "plan": "Weigh it", "draft": "Go on",
}  # fmt: skip
_OF_A_BATCH: tuple[Kind, ...] = ("weighing", "pour", "plan")
_PLACE_OF_DRAFT: dict[str, tuple[str, dict[str, str]]] = {
    "design": ("two_tones", {}), "tiles": ("tiles", {}), "sheet": ("tiles", {"view": "Measure"}),
    "tile": ("tiles", {"view": "Measure", "which": "One tile"}),
}  # fmt: skip


def words_on_button(need: Need) -> str:
    """`Continue weighing`, `Check` ..."""
    return _WORDS[need.kind]


def go_to(need: Need) -> None:
    """Turn to the place where it is done."""
    if need.kind in ("weighing", "pour"):
        turn_to("bowl_at_hand", batch=need.uid)
    elif need.kind == "plan":
        turn_to("bench", batch=need.uid)
    elif need.kind in ("learn", "lot"):
        turn_to("tiles")
    elif need.kind == "stock":
        turn_to("studio")
    elif need.kind == "draft":
        _go_on(need.uid)
    else:
        turn_to("bench", piece=need.uid)


def mark_of(need: Need) -> str:
    """A chip of the shade it is about, or nothing where none is kept."""
    labs = labs_of_batch(need.uid) if need.kind in _OF_A_BATCH else labs_of_piece(need.uid)
    return chip(labs[0], f"{need.words.partition(':')[0]}, dry", beside=labs[-1]) if labs else ""


def _go_on(uid: str) -> None:
    """To where a half-done piece of work is; what was photographed of a piece is with that piece."""
    record = library().find_one(Draft, uid)
    what, key = (record.what, record.key) if record else ("", "")
    if what in ("finished", "demould"):
        turn_to("bench", piece=key.partition("|")[0])
    place, address = _PLACE_OF_DRAFT.get(what, ("match", {}))
    turn_to(place, **address)
