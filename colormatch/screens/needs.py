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
_PLACE_OF_DRAFT = {"match": "match", "design": "two_tones", "tiles": "tiles", "two tones": "two_tones"}


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
        turn_to(_place_of_draft(need.uid))
    else:
        turn_to("bench", piece=need.uid)


def mark_of(need: Need) -> str:
    """A chip of the shade it is about, or nothing where none is kept."""
    labs = labs_of_batch(need.uid) if need.kind in _OF_A_BATCH else labs_of_piece(need.uid)
    return chip(labs[0], f"{need.words.partition(':')[0]}, dry", beside=labs[-1]) if labs else ""


def _place_of_draft(uid: str) -> str:
    record = library().find_one(Draft, uid)
    return _PLACE_OF_DRAFT.get(record.what if record else "", "match")
