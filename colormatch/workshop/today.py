"""What needs her today, most urgent first; and finding anything again by the code on its sheet or by its name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal

from ..library import (
    BatchRecord,
    Cement,
    DesignRecord,
    Draft,
    Library,
    Mould,
    Piece,
    PigmentRecord,
    Record,
    ShadeRecord,
    Swatch,
    stock_warnings,
)
from ..library.values import folded
from ..studio import MEASURED, newest_learned
from .lots import ASKED, questions
from .pieces import drying, last_weighed, ready_words, stage
from .tile_board import BOARD
from .weighing import BOWL, bowls_begun

Kind = Literal["weighing", "pour", "demould", "weigh", "measure", "seal", "stock", "lot", "learn", "plan", "draft"]
_ORDER: tuple[Kind, ...] = (
    "weighing", "pour", "demould", "weigh", "measure", "seal", "stock", "lot", "learn", "plan", "draft"
)  # fmt: skip
_NO_WORK = (BOWL, BOARD, ASKED)  # drafts that are no work to go on with, or are told otherwise
_CALLED = {
    "match": "A shade to match", "sheet": "The photographed tiles", "tile": "A photographed tile",
    "finished": "A photographed piece", "demould": "A piece photographed fresh",
}  # fmt: skip
_WEIGH_AGAIN = timedelta(hours=20)  # "once a day", with room for an earlier hour
_FOUND: tuple[type[Record], ...] = (BatchRecord, Piece, Swatch, DesignRecord, PigmentRecord, Cement, Mould)


@dataclass(frozen=True, slots=True)
class Need:
    """One thing to do. uids: the records it is about (batch, pieces, material or draft); due: since when or by when."""

    kind: Kind
    words: str
    detail: str
    uids: tuple[str, ...]
    due: datetime | None = None
    urgent: bool = False

    @property
    def uid(self) -> str:
        """The first record it is about."""
        return self.uids[0] if self.uids else ""


@dataclass(frozen=True, slots=True)
class Found:
    """A record found by code or name."""

    kind: str
    uid: str
    words: str


def today(library: Library, now: datetime | None = None) -> list[Need]:
    """Everything that waits for her, most urgent first; of one kind the one that has waited longest first."""
    now = now or datetime.now(UTC)
    needs = [*_batches(library, now), *_pieces(library, now), *_rest(library, now)]
    return sorted(needs, key=lambda each: (not each.urgent, _ORDER.index(each.kind), each.due or now))


def find(library: Library, text: str) -> list[Found]:
    """Batches by the code on their sheet, and everything whose name holds all the words typed; newest kinds first."""
    code, words = text.strip().upper(), folded(text).split()
    if not words:
        return []
    coded = [each for each in library.list(BatchRecord) if each.code and each.code.upper() == code]
    found = [Found("batch", each.uid, f"{each.name}, {each.code}") for each in coded]
    for kind in _FOUND:
        for record in library.list(kind):
            name = str(getattr(record, "name", ""))
            if record not in coded and all(word in folded(name) for word in words):
                found.append(Found(kind.KIND, record.uid, name))
    return found


def _batches(library: Library, now: datetime) -> Iterable[Need]:
    drafts = {each.key: each for each in library.list(Draft, what=BOWL)}
    for batch in library.list(BatchRecord, stage=["planned", "weighing"]):
        if not batch.planned.get("bowls"):
            continue
        bowls = bowls_begun(library, batch)
        begun = [bowl for bowl in bowls if bowl.begun]
        if not begun:
            yield Need("plan", f"{batch.name} is planned", "its sheet is ready to weigh", (batch.uid,))
        elif all(bowl.state.done for bowl in bowls):
            yield Need(
                "pour", f"{batch.name} is weighed", "pour it and note that it is cast", (batch.uid,), urgent=True
            )
        else:
            bowl = next((each for each in bowls if not each.state.done), bowls[0])
            at, of = bowl.place
            number = f", bowl {bowl.number} of {bowl.of}" if bowl.of > 1 else ""
            changed = max(
                (drafts[key].changed_at for key in drafts if key.startswith(batch.uid)), key=str, default=None
            )
            ago = f", {_ago(now - changed)}" if changed else ""
            detail = f"left at step {at} of {of}{ago}"
            yield Need("weighing", f"{batch.name}{number}", detail, (batch.uid,), changed, urgent=True)


def _pieces(library: Library, now: datetime) -> Iterable[Need]:
    batches = {each.uid: each for each in library.list(BatchRecord)}
    waiting: dict[tuple[str, str], list[Piece]] = {}
    for piece in library.list(Piece):
        at = stage(library, piece, now)
        if at == "drying":
            last = last_weighed(library, piece)
            if last is not None and now - last < _WEIGH_AGAIN:
                continue
        waiting.setdefault((piece.batch_uid or piece.uid, at), []).append(piece)
    for (batch_uid, where), pieces in waiting.items():
        batch = batches.get(batch_uid)
        many = f", {len(pieces)} pieces" if len(pieces) > 1 else ""
        words = f"{batch.name}{many}" if batch and len(pieces) > 1 else pieces[0].name
        uids = tuple(each.uid for each in sorted(pieces, key=lambda each: each.name))
        if where == "demould due":
            due = min((each.demould_due_at for each in pieces if each.demould_due_at), default=None)
            detail = f"demould was planned for {due.astimezone():%H:%M}" if due else "out of the mould?"
            them = "them" if len(pieces) > 1 else "it"
            yield Need("demould", f"{words}: look at {them} now", detail, uids, due, urgent=True)
        elif where == "drying":
            yield Need("weigh", f"{words}: weigh today", _likely(library, pieces[0]), uids)
        elif where == "to be measured":
            yield Need("measure", f"{words}: dry", "photograph it beside a chart before it is sealed", uids)
        elif where == "ready to seal":
            yield Need("seal", f"{words}: ready to seal", "try the sealer on a foot first", uids)


def _rest(library: Library, now: datetime) -> Iterable[Need]:
    for warning in stock_warnings(library, now.astimezone().date()):
        yield Need("stock", warning.sentence, "", (warning.uid,))
    for each in library.list(Draft):
        looked_at = each.what == "design" and each.key and each.version == 1  # opened, and nothing changed
        no_work = each.what in _NO_WORK or each.what.startswith("form") or looked_at
        if not no_work and not _planned_since(library, each):
            title = _CALLED.get(each.what) or each.title or each.what
            yield Need("draft", f"{title}: go on", f"changed {_ago(now - each.changed_at)}" if each.changed_at else "",
                       (each.uid,), each.changed_at)  # fmt: skip
    for question in questions(library):
        words, _, why = question.words.partition("? ")
        yield Need("lot", f"{words}?", why.partition(". ")[0], (question.name,))
    learned = newest_learned(library)
    measured = [each for each in library.list(ShadeRecord) if each.tile_uid and each.provenance.get("kind") == MEASURED]
    tiles = {each.tile_uid for each in measured} - set(learned.tiles if learned else ())
    if learned is not None and tiles:  # before the first version every measured tile counts anyway
        many = f"{len(tiles)} measured tile{'s' if len(tiles) > 1 else ''} not learned yet"
        yield Need("learn", many, "learn from them, and recipes get nearer", tuple(sorted(filter(None, tiles))))


def _planned_since(library: Library, work: Draft) -> bool:
    """Whether a shade in hand has been answered: a batch of one recipe was planned after its last change."""
    since = work.changed_at
    if work.what != "match" or since is None:
        return False
    of_one = [each for each in library.list(BatchRecord) if each.recipe_uid and not each.design_uid]
    late = [each for each in of_one if each.made_on and each.made_on >= since.astimezone().date()]
    return any(datetime.fromisoformat(library.history(each)[0].saved_at) > since for each in late)


def _likely(library: Library, piece: Piece) -> str:
    found = drying(library, piece)
    if found is None:
        return "its first weight: fresh from the mould, then once a day"
    words = ready_words(found).rstrip(".")
    return words[:1].lower() + words[1:]


def _ago(time: timedelta) -> str:
    minutes = max(int(time.total_seconds() // 60), 0)
    if minutes < 2:
        return "just now"
    if minutes < 120:
        return f"{minutes} minutes ago"
    return f"{minutes // 60} hours ago" if minutes < 2880 else f"{minutes // 1440} days ago"
