"""The bench from the command line: plan, sheet, the bowl step by step, pieces and what comes next, as the page does."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from ..errors import ColormatchError, InputError
from . import answers, asking, wording
from .amounts import grams, one_number

R = TypeVar("R", bound="Record")

if TYPE_CHECKING:
    from ..library import BatchRecord, Library, Record
    from ..palette import Palette
    from ..workshop.weighing import Weighing

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="Batches, bowls and pieces.")
CodeArgument = Annotated[str, typer.Argument(help="The code on the sheet, or the batch's name.")]
PieceArgument = Annotated[str, typer.Argument(help="The name of the piece.")]
LEFT = "Left as it is; go on with the same command, here or on the page."


def today(as_json: answers.JsonOption = False, library: asking.LibraryOption = None) -> None:
    """What needs you today, most urgent first; in a new studio, the steps of the first day."""
    from ..workshop.beginning import first_steps, settled
    from ..workshop.today import today as needs

    with asking.opened(library) as opened:
        found = needs(opened)
        steps = () if settled(opened) else first_steps(opened)
    lines = [f"{'! ' if each.urgent else '  '}{each.words}" + _aside(each.detail) for each in found]
    lines += [f"{'x' if step.done else ' '} {step.words}: {step.note}" for step in steps]
    answer = [{"kind": each.kind, "words": each.words, "detail": each.detail, "uids": each.uids} for each in found]
    first = [{"name": step.name, "done": step.done} for step in steps]
    answers.tell(lines or ["Nothing today."], {"today": answer, "first_day": first}, as_json=as_json)


def find(
    text: Annotated[str, typer.Argument(help="The code on a sheet, or a part of a name.")],
    picture: Annotated[Path | None, typer.Option(help="Draw the swatches found, .png or .jpg.")] = None,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Find a batch by the code on its sheet, and anything by its name."""
    from ..library import Swatch
    from ..render import contact_sheet
    from ..workshop.today import find as look

    with asking.opened(library) as opened:
        found = look(opened, text)
        if picture is not None:
            swatches = [opened.get(Swatch, each.uid) for each in found if each.kind == Swatch.KIND]
            asking.save_picture(contact_sheet(opened, swatches), asking.picture_place(picture))
    answer = [{"kind": each.kind, "uid": each.uid, "words": each.words} for each in found]
    lines = [f"{each.kind:8} {each.words}" for each in found] or [f"Nothing is called {text!r}."]
    answers.tell(lines, {"found": answer}, as_json=as_json)


@app.command("plan", epilog='Example: colormatch bench plan "Rust tray" --pieces 2 --library demo')
def plan(
    name: Annotated[str, typer.Argument(help="A kept swatch or design.")],
    mould: Annotated[str | None, typer.Option(help="The mould's name; without: the one you fill most.")] = None,
    cement: Annotated[str | None, typer.Option(help="Dry cement of all bowls instead of a mould: 780g.")] = None,
    pieces: Annotated[int, typer.Option(min=1, help="How many.")] = 1,
    preblend: Annotated[str | None, typer.Option(help="Pigments to weigh as a pre-blend 1:9, by their uids.")] = None,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Plan a batch: its grams, its code, its name."""
    from ..library import DesignRecord, Mould, Swatch
    from ..studio import studio_palette
    from ..workshop import plans

    with asking.opened(library) as opened:
        knowledge = studio_palette(opened)
        kept = _one(opened, (Swatch, DesignRecord), name)
        assert isinstance(kept, Swatch | DesignRecord)
        casting = plans.casting_of(opened, kept)
        planned = plans.plan(
            opened, knowledge, casting, pieces=pieces,
            mould_uid=_one(opened, (Mould,), mould).uid if mould else None,
            cement_g=grams(cement, name="The cement") if cement else None,
            preblend=asking.pigments(knowledge, preblend),
        )  # fmt: skip
        batch = plans.keep_plan(opened, knowledge, planned)
        lines = [f"{batch.name}, code {batch.code}"]
        blocks = plans.batch_sheet(opened, knowledge, batch).blocks
        for block in blocks:
            lines += ["", block.title]
            lines += [
                f"  {line.grams:>9} g  {line.name}{f', up to {line.up_to} g' if line.up_to else ''}"
                for line in block.lines
            ]
    small = [dose.words for dose in planned.small]
    lines += ["", *(f"Small dose: {words}" for words in small), wording.WEIGHING_CAUTION]
    bowls = {
        block.title: [{"name": e.name, "grams": e.grams, "up_to": e.up_to} for e in block.lines] for block in blocks
    }
    answer = {"batch": batch.name, "code": batch.code, "bowls": bowls, "small_doses": small}
    answers.tell(lines, answer, as_json=as_json)


@app.command("sheet", epilog="Example: colormatch bench sheet SBDS4H sheet.pdf")
def sheet(
    code: CodeArgument,
    destination: Annotated[Path, typer.Argument(help="A new .pdf or .html file.")],
    library: asking.LibraryOption = None,
) -> None:
    """Write the weigh sheet of a batch to print."""
    from ..bench.sheet_html import sheet_html
    from ..bench.sheet_pdf import sheet_pdf
    from ..library.files import write_whole
    from ..studio import studio_palette
    from ..workshop.plans import batch_sheet

    if destination.suffix.lower() not in (".pdf", ".html"):
        raise InputError(f"A sheet cannot be written to {str(destination)!r}; name a .pdf or a .html file.")
    with asking.opened(library) as opened:
        made = batch_sheet(opened, studio_palette(opened), _batch(opened, code))
    pdf = destination.suffix.lower() == ".pdf"
    write_whole(destination, sheet_pdf(made) if pdf else sheet_html(made).encode())
    typer.echo(f"Written: {destination}")


@app.command("bowl", epilog="Example: colormatch bench bowl SBDS4H --number 1")
def bowl(
    code: CodeArgument,
    number: Annotated[int, typer.Option(min=1, help="Which bowl.")] = 1,
    library: asking.LibraryOption = None,
) -> None:
    """Weigh a bowl step by step. Type what the scale shows; `undo`, `enough`, or an empty line to leave it for now."""
    from ..studio import studio_palette
    from ..workshop import weighing as at

    with asking.opened(library) as opened:
        knowledge = studio_palette(opened)
        work: Weighing = at.begin_bowl(opened, _batch(opened, code), number, device="command line")
        while not work.state.done:
            answer = at.slip_of(knowledge, work)
            if answer is not None:
                typer.echo(answer.words)
                typed = typer.prompt("correct, leave or undo", default="", show_default=False).strip().lower()
            else:
                what, work_words, caution = at.step_words(knowledge, work)
                step, (place, of) = work.step, work.place
                assert step is not None
                up_to = f", up to {step.up_to:g} g" if step.up_to else ""
                amount = "" if step.kind == "zero" else f": {step.grams:g} g{up_to}"
                typer.echo(f"\nStep {place} of {of}. {what}{amount}\n  {work_words}\n  {caution}")
                typed = typer.prompt(
                    "Done" if step.kind == "zero" else "The scale shows, g", default="", show_default=False
                )
            if not typed.strip():
                typer.echo(LEFT)
                return
            try:
                work = _step(opened, knowledge, work, typed.strip())
            except ColormatchError as error:
                typer.echo(str(error))
        found = at.effect(knowledge, work)
    typer.echo("This bowl is weighed." + (f" {found.words}" if found else ""))


@app.command("cast", epilog="Example: colormatch bench cast SBDS4H --weather cool")
def cast(
    code: CodeArgument,
    weather: Annotated[str, typer.Option(help="Hot and dry, damp, cold ...")] = "",
    finish: Annotated[str, typer.Option(help="The mould's finish.")] = "",
    stock: Annotated[bool, typer.Option(help="Take what was weighed from the stock.")] = True,
    library: asking.LibraryOption = None,
) -> None:
    """The bowls are poured: the weights are kept, and the pieces get their names and times."""
    from ..bench.cautions import caution_at
    from ..workshop.casting import Circumstances
    from ..workshop.casting import cast as pour

    with asking.opened(library) as opened:
        said = Circumstances(weather=weather, mould_finish=finish)
        pieces = pour(opened, _batch(opened, code), circumstances=said, take_from_stock=stock)
    lines = [f"{each.name}: out of the mould from {each.demould_due_at.astimezone():%d.%m. %H:%M}" for each in pieces
             if each.demould_due_at]  # fmt: skip
    typer.echo("\n".join([*lines, caution_at("Pour"), caution_at("Clean up")]))


@app.command("piece", epilog='Example: colormatch bench piece "Rust tray 1" --weight 412.3')
def piece(
    name: PieceArgument,
    demoulded: Annotated[bool, typer.Option("--demoulded", help="It has left the mould just now.")] = False,
    weight: Annotated[str | None, typer.Option(help="What it weighs now, in g.")] = None,
    lab: Annotated[str | None, typer.Option(help="Its measured shade: L*,a*,b*.")] = None,
    sd: Annotated[float, typer.Option(help="How sure that shade is, in CIELAB units.")] = 0.7,
    state: Annotated[str, typer.Option(help="The state that shade is in: demould, wet, dry or sealed.")] = "dry",
    sealed: Annotated[str | None, typer.Option(help="Sealed just now, with this.")] = None,
    weather: Annotated[str | None, typer.Option(help="Correct the weather noted; only before it is measured.")] = None,
    sold: Annotated[bool, typer.Option("--sold", help="Sold today.")] = False,
    undo: Annotated[
        bool, typer.Option("--undo", help="Take back what was last noted: out of the mould, sealed or sold.")
    ] = False,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Note what happened to a piece, and see where it stands."""
    from ..library import Piece
    from ..shade import Shade
    from ..studio import studio_palette
    from ..workshop import pieces as lives
    from ..workshop.comparing import other_casts, outcome
    from ..workshop.numbers import Question
    from ..workshop.selling import cost_words

    with asking.opened(library) as opened:
        one, lines = _one(opened, (Piece,), name), list[str]()
        if undo:
            one, words = lives.undo_piece(opened, one)
            lines.append(words)
        if demoulded:
            one = lives.demould(opened, one)
        if weather is not None:
            lives.change_conditions(opened, one, weather=weather)
            one = opened.get(Piece, one.uid)
        if weight is not None and isinstance(asked := lives.weigh(opened, one, weight), Question):
            one_number(asked)
        if sealed is not None:
            one = lives.seal(opened, opened.get(Piece, one.uid), sealed)
        if lab is not None:
            shade = Shade(asking.numbers(lab, 3, "The shade"), sd=sd)
            if state == "demould":
                lines.append(lives.check_fresh(opened, studio_palette(opened), one, shade).words)
            lines.append(lives.as_standard(lives.keep_shade(opened, one, shade, state=state)))
        one = opened.get(Piece, one.uid)
        one = lives.sell(opened, one) if sold else one
        stage = lives.stage(opened, one)
        lines.append(f"{one.name}: {stage}")
        followed = lives.drying(opened, one)
        lines.append(followed.words if followed else "")
        if lives.dry_shade(opened, one) is not None:
            lines.append(outcome(opened, studio_palette(opened), one).words)
            for other in other_casts(opened, one):
                lines += [f"{other.piece.name}: {other.words}", *(f"  {each}" for each in other.different)]
        noted = lives.conditions(one) | ({"materials": cost} if (cost := cost_words(opened, one)) else {})
    lines = [line for line in lines if line]
    answer = {"piece": one.name, "stage": stage, "says": lines, "conditions": noted}
    answers.tell([*lines, *(f"  {what}: {words}" for what, words in noted.items())], answer, as_json=as_json)


@app.command("next", epilog='Example: colormatch bench next "Rust tray 1"')
def following(name: PieceArgument, as_json: answers.JsonOption = False, library: asking.LibraryOption = None) -> None:
    """Correct the recipe for the next batch, from what the piece was weighed to be and how it measured dry."""
    from ..library import Piece
    from ..studio import studio_palette
    from ..workshop.comparing import next_batch
    from ..workshop.plans import keep_plan
    from ..workshop.plans import plan as planned

    with asking.opened(library) as opened:
        knowledge = studio_palette(opened)
        found = next_batch(opened, knowledge, _one(opened, (Piece,), name))
        batch = keep_plan(
            opened, knowledge, planned(opened, knowledge, found.casting, cement_g=found.recipe.cement_g)
        )  # fmt: skip
    rows = [
        f"  {knowledge.label(each)}: {found.last.loads.get(each, 0):.2%} was in it, {load:.2%} next"
        for each, load in found.recipe.loads.items()
    ]
    answer = {"batch": batch.name, "code": batch.code, "says": found.words, "loads": dict(found.recipe.loads)}
    answers.tell([found.words, *rows, f"Planned: {batch.name}, code {batch.code}"], answer, as_json=as_json)


def _step(library: Library, knowledge: Palette, work: Weighing, typed: str) -> Weighing:
    """What was typed at the bowl, done."""
    from ..workshop import weighing as at
    from ..workshop.numbers import Question

    if typed == "undo":
        work, words = at.undo(library, knowledge, work)
        typer.echo(words)
        return work
    answer = at.slip_of(knowledge, work)
    if answer is not None:
        if typed not in ("correct", "leave"):
            raise InputError(f"{typed!r} is no answer; type correct, leave or undo.")
        return at.settle(library, work, answer, correct=typed == "correct")
    if typed == "enough":
        return at.enough(library, work)
    if work.step is not None and work.step.kind == "zero":
        return at.zeroed(library, work)
    asked = at.put(library, knowledge, work, typed)
    if not isinstance(asked, Question):
        return asked
    typer.echo(asked.words)
    for place, choice in enumerate(asked.choices, start=1):
        typer.echo(f"  {place}: {choice.words}")
    chosen = typer.prompt("Which", default="", show_default=False)
    picked = asked.choices[int(chosen) - 1] if chosen.isdigit() and 0 < int(chosen) <= len(asked.choices) else None
    if picked is None or picked.value is None:
        return work
    return at.put_sure(library, work, picked.value, typed=typed)


def _batch(library: Library, code: str) -> BatchRecord:
    from ..library import BatchRecord

    return _one(library, (BatchRecord,), code)


def _one(library: Library, kinds: tuple[type[R], ...], text: str) -> R:
    """The record of that code or name, or the only one whose name holds what was typed; InputError that lists them."""
    from ..workshop.today import find as look

    known = {kind.KIND: kind for kind in kinds}
    found = [each for each in look(library, text) if each.kind in known]
    exact = [each for each in found if each.words.casefold() == text.strip().casefold()] or found
    words = " or ".join(known)
    if len(exact) == 1:
        return library.get(known[exact[0].kind], exact[0].uid)
    if not exact:
        raise InputError(f"There is no {words} called {text!r}. Look with: colormatch find PART-OF-ITS-NAME")
    listed = ", ".join(each.words for each in exact[:6])
    raise InputError(f"{text!r} may be any {words} of these: {listed}. Type its whole name.")


def _aside(detail: str) -> str:
    return f" ({detail})" if detail else ""
