"""Weighing a bowl, kept at each step: begun on one device, gone on with on another, taken back in one step.

Each change is kept in the library before it is shown, as the draft "bowl"; whoever changes a bowl that another device
has changed since gets ConflictError, and `begin_bowl` gives what is there now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from ..arrays import number_between
from ..bench.bowl import WATER, Bowl, Entry, Step, small_doses
from ..bench.cautions import PREBLEND, caution_at
from ..bench.weighing_mistake import Correction, correct_weighing
from ..difference import delta_e_2000
from ..errors import InputError
from ..frozen import FrozenMapping
from ..library import BatchRecord, ConflictError, Draft, Library, draft, drop_draft, save_draft, undo_draft
from ..loads import ASTM_C979_MAXIMUM
from ..palette import Palette
from ..saying import capital, compared
from ..shade import Shade
from .numbers import Choice, Question, read_number
from .plans import plan_of

BOWL = "bowl"  # what the drafts of bowls are called
_MUCH_MORE = 1.5  # times the planned weight: a reading above it is asked about before it counts
_CAUTIONS = {"zero": "Weigh", "cement": "Weigh", "pigment": "Weigh", "preblend": "Weigh", "water": "Water"}


@dataclass(frozen=True)
class Weighing:
    """A bowl of a batch at the scale, as it was last seen. state: what is in and what is next.

    lots: material -> uid of the bag or jar in use, where it was said. device: the one at hand, noted with each change.
    seen: the draft it was read from.
    """

    batch: BatchRecord
    number: int
    of: int
    state: Bowl
    additive: str = ""
    lots: Mapping[str, str] = field(default_factory=FrozenMapping)
    seen: Draft | None = None
    device: str = ""

    @property
    def step(self) -> Step | None:
        """What to put in now; None when all is in, or while a mistake waits for its answer."""
        return self.state.ahead[0] if self.state.ahead else None

    @property
    def place(self) -> tuple[int, int]:
        """(2, 6): step 2 of 6."""
        return self.state.number, len(self.state.order)

    @property
    def begun(self) -> bool:
        """Whether anything was weighed."""
        return any(each.done == "weighed" for each in self.state.entries)


@dataclass(frozen=True, slots=True)
class Effect:
    """What the bowl will be, finished as it stands, beside the plan: shades dry, and the difference in words."""

    planned: Shade
    expected: Shade
    delta_e: float
    words: str


def begin_bowl(library: Library, batch: BatchRecord, number: int = 1, *, device: str = "") -> Weighing:
    """Begin a bowl, or go on with it where it was left, on whatever device; bowls count from 1."""
    bowls = _bowls(library, batch)
    if batch.stage in ("cast", "done"):
        raise InputError(f"{batch.name} was cast already; its weights are kept. Plan it again to cast it again.")
    if not 1 <= number <= len(bowls):
        raise InputError(f"There is no bowl {number}; {batch.name} has {len(bowls)}.")
    there = draft(library, BOWL, _key(batch, number))
    if there is None:
        there = save_draft(
            library, BOWL, _key(batch, number), content=_content((), "", {}), title=_title(batch, number, len(bowls)),
            device=device,
        )  # fmt: skip
        library.update(BatchRecord, batch.uid, lambda each: replace(each, stage="weighing"))
    return replace(_read(batch, number, bowls, there), device=device)


def bowls_begun(library: Library, batch: BatchRecord) -> list[Weighing]:
    """The bowls of a batch as they stand, those not begun too; nothing is kept."""
    bowls = _bowls(library, batch)
    return [_read(batch, i, bowls, draft(library, BOWL, _key(batch, i))) for i in range(1, len(bowls) + 1)]


def bowl_to_weigh(library: Library, batch: BatchRecord) -> int:
    """The first bowl that is not weighed to its end; the last one where all are."""
    bowls = bowls_begun(library, batch)
    return next((each.number for each in bowls if not each.state.done), len(bowls))


def step_words(knowledge: Palette, weighing: Weighing) -> tuple[str, str, str]:
    """(what, what to do, what to beware of) for the step at hand; empty when there is none."""
    step = weighing.step
    if step is None:
        return "", "", ""
    label = capital(knowledge.label(step.material))
    fine = weighing.state.scale_step_g < weighing.state.bulk_step_g
    cup = "In a small cup on the fine scale, zeroed; tip all of it into the bowl."
    work = {
        "zero": "Put the empty bowl on the scale and zero it.",
        "cement": "Zero the scale, bowl on it.",
        "pigment": cup if fine else "Zero the scale, bowl on it.",
        "preblend": f"Weigh the pre-blend of 1 part {label} and 9 parts of the same cement. Zero the scale first.",
        "water": "Lid on, turn until the colour is even; then zero the scale and add water to a thick pourable mix.",
    }[step.kind]
    if step.kind == "pigment" and step.material in small_doses(weighing.state.sheet, weighing.state.scale_step_g):
        work += " It is little for this scale: a pre-blend 1:9 in the same cement, planned so, is ten times finer."
    caution = caution_at(_CAUTIONS[step.kind])
    if step.kind == "water":
        caution = f"{caution_at('Mix dry')} {caution}"
    if step.kind == "preblend":
        caution = f"{PREBLEND} {caution}"
    names = {"zero": "Zero the scale", "preblend": f"Pre-blend of {label}", "water": "Water"}
    return names.get(step.kind, label), work, caution


def put(library: Library, knowledge: Palette, weighing: Weighing, text: str) -> Weighing | Question:
    """What the scale shows for the step at hand, as typed; a Question where it needs one, then nothing is kept yet.

    Answer a question with `put_sure`. InputError for what is no number: it is never taken as the planned weight.
    """
    step = _step_at_hand(weighing)
    name = f"The weight of {knowledge.label(step.material)}"
    bowl = weighing.state
    marks = bowl.bulk_step_g if step.kind in ("cement", "water") else bowl.scale_step_g
    read = _something(text, name, marks)
    if isinstance(read, Question):
        return read
    return _asked(knowledge, weighing, step, read) or put_sure(library, weighing, read, typed=text)


def put_sure(library: Library, weighing: Weighing, grams: float, *, typed: str = "") -> Weighing:
    """Count grams for the step at hand, without asking: the answer to a Question."""
    step = _step_at_hand(weighing)
    return _keep(library, weighing, weighing.state.plus(_entry("weighed", step.material, grams, typed)))


def zeroed(library: Library, weighing: Weighing) -> Weighing:
    """The scale shows zero with the bowl on it."""
    return _keep(library, weighing, weighing.state.plus(_entry("zero")))


def enough(library: Library, weighing: Weighing) -> Weighing:
    """What is short of the step at hand stays short; it counts as it is."""
    step = weighing.step
    if step is None or step.kind == "zero":
        raise InputError("There is nothing to leave as it is.")
    if step.kind == "cement" and not weighing.state.inside.get(step.material):
        raise InputError("No cement is in the bowl yet: weigh it first.")
    return _keep(library, weighing, weighing.state.plus(_entry("enough", step.material)))


def slip_of(knowledge: Palette, weighing: Weighing) -> Correction | None:
    """The answer to a mistake that waits for one, or None."""
    return correct_weighing(knowledge, weighing.state) if weighing.state.over else None


def settle(library: Library, weighing: Weighing, answer: Correction, *, correct: bool) -> Weighing:
    """Go on after a mistake: with the additions that correct it, or with the sheet as it stands."""
    add = answer.to_correct if correct else answer.to_leave
    entry = replace(_entry("correct" if correct else "leave"), add=FrozenMapping(add))
    return _keep(library, weighing, weighing.state.plus(entry))


def correct(library: Library, knowledge: Palette, weighing: Weighing, place: int, text: str) -> Weighing | Question:
    """Correct a weight entered earlier; place: its index in `state.entries`. Answers given after it are asked anew."""
    entries = weighing.state.entries
    if not 0 <= place < len(entries) or entries[place].done != "weighed":
        raise InputError(f"There is no weight at place {place} of this bowl.")
    read = _something(text, f"The weight of {knowledge.label(entries[place].material)}")
    if isinstance(read, Question):
        return read
    return correct_sure(library, weighing, place, read, typed=text)


def correct_sure(library: Library, weighing: Weighing, place: int, grams: float, *, typed: str = "") -> Weighing:
    """The same with grams that need no question."""
    return _keep(library, weighing, weighing.state.corrected(place, grams, typed))


def undo(library: Library, knowledge: Palette, weighing: Weighing) -> tuple[Weighing, str]:
    """Take the last step of this bowl back; the bowl before it, and a sentence on what was taken back."""
    there = draft(library, BOWL, _key(weighing.batch, weighing.number))
    if there is None or weighing.seen is None or there.version != weighing.seen.version:
        raise ConflictError("Another device has changed this bowl since. Look at it again before taking a step back.")
    undone = undo_draft(library, BOWL, _key(weighing.batch, weighing.number))
    before = _read(weighing.batch, weighing.number, _bowls(library, weighing.batch), undone)
    return replace(before, device=weighing.device), _undone(knowledge, weighing.state.entries, before.state.entries)


def start_again(library: Library, weighing: Weighing) -> Weighing:
    """Empty the bowl; `undo` brings back what was in."""
    return _keep(library, weighing, replace(weighing.state, entries=()))


def water_question(knowledge: Palette, weighing: Weighing, grams: float) -> Question | None:
    """What to ask before so much more water counts, after the step of water: was the scale zeroed?"""
    return _asked(knowledge, weighing, Step("water", WATER, weighing.state.water_most_g), grams)


def add_water(library: Library, weighing: Weighing, grams: float) -> Weighing:
    """More water after the step of water."""
    grams = number_between(grams, name="The water", low=0.01, high=100_000)
    return _keep(library, weighing, weighing.state.plus(_entry("weighed", WATER, grams)))


def note_additive(library: Library, weighing: Weighing, words: str) -> Weighing:
    """What else went in, in words (`plasticiser 1.5 g`); it is kept with the piece's conditions."""
    return _keep(library, replace(weighing, additive=" ".join(words.split())[:200]), weighing.state)


def use_lot(library: Library, weighing: Weighing, material: str, lot_uid: str) -> Weighing:
    """Say from which bag or jar a material is weighed; without it the one in use is taken."""
    return _keep(library, replace(weighing, lots={**weighing.lots, material: lot_uid}), weighing.state)


def effect(knowledge: Palette, weighing: Weighing) -> Effect | None:
    """What the weights so far do to the dry shade, the rest as on the sheet; None for a bowl nothing is known of."""
    bowl = weighing.state
    if bowl.sheet.base not in knowledge.bases or not set(bowl.sheet.pigments_g) <= set(knowledge.pigments):
        return None
    mix = bowl.mix
    if mix.total > ASTM_C979_MAXIMUM:  # more than anything is known of; the mistake's answer says what to do
        return None
    planned = knowledge.predict(bowl.sheet.loads, bowl.sheet.base)
    expected = knowledge.predict(mix.loads, mix.base)
    off = float(delta_e_2000(expected.lab, planned.lab))
    return Effect(planned, expected, off, f"Dry, that is {compared(expected.lab, planned.lab)}.")


def _something(text: str, name: str, step: float | None = None) -> float | Question:
    """A weight as typed; InputError for nothing."""
    read = read_number(text, name=name, step=step)
    if read == 0:
        raise InputError(f"{name} is 0 g: type what the scale shows, or undo the step if none of it went in.")
    return read


def _asked(knowledge: Palette, weighing: Weighing, step: Step, grams: float) -> Question | None:
    """A question for a reading that looks untared, or much larger than planned."""
    most = step.up_to or step.grams
    if grams <= max(_MUCH_MORE * most, most + 2 * weighing.state.least(step.material)):
        return None
    label = knowledge.label(step.material)
    inside = round(sum(weighing.state.inside.values()), 6)
    again = Choice("type it again")
    as_read = Choice(f"{grams:g} g of {label} went in", grams)
    alone = round(grams - inside, 6)
    if inside > 0 and 0 < alone <= _MUCH_MORE * most:
        words = (
            f"{grams:g} g is about what is in the bowl by now ({inside:g} g) with the {label}. "
            f"Was the scale not zeroed?"
        )
        return Question(words, (Choice(f"{alone:g} g of {label} (less what was in)", alone), as_read, again))
    zero = " Was the empty bowl on the scale when it was zeroed?" if step.kind == "cement" else ""
    return Question(f"{grams:g} g of {label} where {most:g} g is planned: is that right?{zero}", (again, as_read))


def _undone(knowledge: Palette, after: tuple[Entry, ...], before: tuple[Entry, ...]) -> str:
    if len(after) > len(before):
        last = after[-1]
        if last.done == "weighed":
            return f"Taken back: {last.grams:g} g of {knowledge.label(last.material)}."
        return {"zero": "Taken back: the scale is to be zeroed again."}.get(last.done, "Taken back: your last answer.")
    return "Taken back: the last change of this bowl."


def _step_at_hand(weighing: Weighing) -> Step:
    step = weighing.step
    if weighing.state.over:
        raise InputError("Too much went in: first say whether to correct it or to leave it.")
    if step is None:
        raise InputError("Everything is in this bowl; correct a weight, or go on.")
    if step.kind == "zero":
        raise InputError("First zero the scale with the empty bowl on it.")
    return step


def _keep(library: Library, weighing: Weighing, state: Bowl) -> Weighing:
    kept = save_draft(
        library,
        BOWL,
        _key(weighing.batch, weighing.number),
        content=_content(state.entries, weighing.additive, weighing.lots),
        seen=weighing.seen,
        title=_title(weighing.batch, weighing.number, weighing.of),
        device=weighing.device,
    )
    return replace(weighing, state=state, seen=kept)


def put_by(library: Library, weighing: Weighing) -> None:
    """The bowl is cast: its draft is put by."""
    if weighing.seen is not None:
        drop_draft(library, weighing.seen)


def _bowls(library: Library, batch: BatchRecord) -> tuple[Bowl, ...]:
    plan = plan_of(batch)
    own = plan.batch
    return tuple(
        Bowl(sheet, own.scale_step_g, own.bulk_step_g, own.cap, frozenset(plan.preblend)) for sheet in own.bowls
    )


def _read(batch: BatchRecord, number: int, bowls: tuple[Bowl, ...], there: Draft | None) -> Weighing:
    content = there.content if there else {}
    entries = tuple(
        Entry(
            each["done"], each["material"], float(each["grams"]), each["typed"], each["at"], FrozenMapping(each["add"])
        )
        for each in content.get("entries", ())
    )
    state = replace(bowls[number - 1], entries=entries)
    lots = FrozenMapping(content.get("lots", {}))
    return Weighing(batch, number, len(bowls), state, str(content.get("additive", "")), lots, there)


def _content(entries: tuple[Entry, ...], additive: str, lots: Mapping[str, str]) -> dict[str, Any]:
    rows = [
        {"done": e.done, "material": e.material, "grams": e.grams, "typed": e.typed, "at": e.at, "add": dict(e.add)}
        for e in entries
    ]
    return {"entries": rows, "additive": additive, "lots": dict(lots)}


def _entry(done: Any, material: str = "", grams: float = 0.0, typed: str = "") -> Entry:
    # To the microsecond: two devices that put in the same at once are two entries, not one change seen twice.
    return Entry(done, material, round(grams, 6), typed, datetime.now(UTC).isoformat(timespec="microseconds"))


def _key(batch: BatchRecord, number: int) -> str:
    return f"{batch.uid}/{number}"


def _title(batch: BatchRecord, number: int, of: int) -> str:
    return f"{batch.name}, bowl {number} of {of}" if of > 1 else batch.name
