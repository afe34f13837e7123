"""The main job on the command line: a photograph or a colour becomes a recipe in grams."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ..errors import InputError
from ..states import in_order
from . import answers, asking, wording
from .amounts import grams, per_cent

if TYPE_CHECKING:
    from ..arrays import FloatArray
    from ..basis import Amounts
    from ..lamps import Lamp
    from ..palette import Palette
    from ..recipes import Limits, Recipe
    from ..shade import Shade

_CARD = Path("colour-card.png")
CementOption = Annotated[str, typer.Option(help="Dry cement of the batch: 780 (g), 780g or 0.78kg.")]
StepOption = Annotated[
    str | None, typer.Option(help="Smallest step of your scale, in g; without, the one kept for the studio.")
]
CapOption = Annotated[
    str | None, typer.Option(help="Most pigment in all: 5 (per cent of the dry cement), 5% or 50g/kg; at most 10 %.")
]


def demo(
    card: Annotated[Path, typer.Option(help="Where the picture card is written.")] = _CARD,
    target: Annotated[int, typer.Option(help="Which of the demo's target photographs, from 1.")] = 1,
) -> None:
    """The whole main job on an invented studio: photograph, shade, recipes, wet and dry, a picture card."""
    from .demonstration import run_demo

    run_demo(card, target)


def shade(
    photo: Annotated[Path, typer.Argument(help="The photograph, or a file of spectra (.csv, .tsv, .txt).")],
    region: asking.RegionOption = None,
    corners: asking.CornersOption = None,
    chart: asking.ChartOption = None,
    grey: asking.GreyOption = None,
    grey_factor: asking.GreyFactorOption = 0.18,
    anything: asking.AnythingOption = False,
    proof: Annotated[Path | None, typer.Option(help="Write a picture of what was measured.")] = None,
    as_json: answers.JsonOption = False,
) -> None:
    """The shade of a region of a photograph, or of each spectrum in a file (.csv, .txt), and how sure it is."""
    from ..photo import load_picture

    if photo.suffix.lower() in asking.TABLES:
        spectra = asking.spectra(photo)
        answer = {"shades": {name: answers.named_shade(one) for name, (one, _) in spectra.items()}}
        answers.tell(wording.spectra(spectra), answer, as_json=as_json)
        return
    if proof is not None:
        asking.picture_place(proof)
    picture = load_picture(photo)  # once, for measuring and for the proof
    measured = asking.photographed(picture, region, corners, grey, grey_factor, chart, anything=anything)
    notation = wording.notation(measured.shade)
    answer = answers.photo(measured) | {"shade": answers.named_shade(measured.shade)}
    answers.tell([*wording.measured(measured), *notation], answer, as_json=as_json)
    if proof is not None:
        from ..render import proof_picture

        asking.save_picture(proof_picture(picture, [measured]), proof)
        typer.echo(f"Written: {proof}", err=as_json)


def board(
    place: Annotated[Path, typer.Argument(help="Where the page is written.")] = Path("tile-board.pdf"),
    paper: Annotated[str, typer.Option(help="A4 or Letter.")] = "A4",
) -> None:
    """The printed frame for a board of your own measured tiles, a reference for photographs without a chart."""
    from ..library.files import write_whole
    from ..render import board_pdf

    write_whole(place, board_pdf(paper))
    typer.echo(f"Written: {place}. Print it at 100 %, in black, and glue a measured tile into each window.")


def recipe(
    photo: Annotated[Path | None, typer.Option(help="Photograph of the target.")] = None,
    region: asking.RegionOption = None,
    corners: asking.CornersOption = None,
    chart: asking.ChartOption = None,
    grey: asking.GreyOption = None,
    grey_factor: asking.GreyFactorOption = 0.18,
    anything: asking.AnythingOption = False,
    lab: Annotated[str | None, typer.Option(help="The target as L*,a*,b* (D65, 2 degree).")] = None,
    hex_colour: Annotated[str | None, typer.Option("--hex", help="The target as a screen colour, #rrggbb.")] = None,
    spectrum: Annotated[
        Path | None, typer.Option(help="The target as a spectrum: a spectrophotometer's text file, or a CSV.")
    ] = None,
    sample: Annotated[str | None, typer.Option(help="Which spectrum of the file, by its name.")] = None,
    shades: Annotated[
        Path | None, typer.Option(help="Many targets: a CSV with the columns name,L,a,b or name,hex.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Write the table of many targets as a CSV.")] = None,
    base: asking.BaseOption = None,
    cement: CementOption = "780",
    step: StepOption = None,
    cap: CapOption = None,
    most: Annotated[int, typer.Option("--most", help="Most pigments in one recipe, 1 to 5.")] = 4,
    use: Annotated[
        str | None,
        typer.Option(
            help=f"Only these pigments, as on the jars (colormatch shelf lists yours; in the demo {asking.JARS}), "
            "separated by commas."
        ),
    ] = None,
    never: Annotated[
        str | None, typer.Option(help="Never these pigments, as on the jars, separated by commas.")
    ] = None,
    light: Annotated[
        list[str] | None,
        typer.Option(help="Where it will be seen: window, bulb, living room, shop, a lamp by name, or its file (CSV)."),
    ] = None,
    basis: asking.BasisOption = None,
    sand: asking.SandOption = 0.0,
    water: asking.WaterOption = None,
    card: Annotated[Path | None, typer.Option(help="Write a picture card of the first recipe.")] = None,
    keep: Annotated[str | None, typer.Option(help="Keep the first recipe as a swatch of this name.")] = None,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Recipes in grams for a target, from the jars on your shelf: a photograph, an L*a*b* or a screen colour."""
    if sum(given is not None for given in (photo, lab, hex_colour, spectrum, shades)) != 1:
        raise InputError(
            "Give one target: --photo with --region, or --lab L,a,b, or --hex #rrggbb, or --spectrum FILE, or "
            "--shades FILE."
        )
    if card is not None:
        asking.picture_place(card)
    measured = None
    if photo is not None:
        own = asking.studios_chart(library)
        measured = asking.photographed(photo, region, corners, grey, grey_factor, chart, own, anything=anything)
    bench = _bench(library, base=base, cement=cement, step=step, cap=cap, most=most, use=use, never=never, light=light,
                   basis=basis, sand=sand, water=water)  # fmt: skip
    if shades is not None:
        _many(asking.shades_of(shades), bench, out, as_json=as_json)
        return
    reflectance = None
    if spectrum is not None:
        wanted, reflectance = asking.spectrum(spectrum, sample)
    else:
        wanted = asking.colour(lab, hex_colour) if measured is None else measured.shade
    found, reach = _found(wanted, bench, reflectance)
    lines = [] if measured is None else [*wording.measured(measured), ""]
    lines += [reach, ""] if reach else []
    lines += wording.recipes(found, wanted, bench.offered, bench.limits, bench.currency, bench.amounts)
    lines += [] if light is None else ["", *wording.in_lights(found, bench.lamps)]
    answer = {"target": answers.shade(wanted), "out_of_reach": reach, "recipes": _as_answers(found)}
    answer |= {} if measured is None else {"photograph": answers.photo(measured)}
    answers.tell(lines, answer, as_json=as_json)
    if card is not None:
        from .card import card_of

        asking.save_picture(card_of(found[0], title=f"Recipe on {bench.offered.label(bench.base)}"), card)
        typer.echo(f"\nWritten: {card}", err=as_json)
    if keep is not None:
        from ..workshop.keeping import keep_recipe

        with asking.opened(library) as opened:
            swatch = keep_recipe(opened, found[0], wanted, name=keep)
        typer.echo(f"Kept: {swatch.name}. Plan a batch of it with: colormatch bench plan {swatch.name!r}", err=as_json)


@dataclass(frozen=True, eq=False)
class _Bench:
    """What a recipe is looked for with: the palette of the shelf, the cement, the limits."""

    offered: Palette
    base: str
    limits: Limits
    currency: str
    lamps: list[Lamp]
    amounts: Amounts


def _bench(
    library: str | None, *, base: str | None, cement: str, step: str | None, cap: str | None, most: int,
    use: str | None, never: str | None, light: list[str] | None, basis: str | None, sand: float, water: float | None,
) -> _Bench:  # fmt: skip
    from ..arrays import SCALE_STEPS_G
    from ..studio import studio_palette
    from ..workshop.shelf import defaults, limits, offer

    with asking.opened(library) as opened:
        offered = offer(opened, studio_palette(opened))
        usual = limits(opened, offered, cement_g=grams(cement, name="The cement of the batch"), max_pigments=most)
        studio = defaults(opened)
        lamps = asking.lights(opened, light)
    changed: dict[str, Any] = {"never_use": asking.pigments(offered, never)}
    if use is not None:
        changed["pigments"] = asking.pigments(offered, use)
    if step is not None:
        changed["scale_step_g"] = grams(step, name="The scale's step", high=SCALE_STEPS_G[1])
    if cap is not None:
        changed["load_cap"] = per_cent(cap, name="The cap on pigment", high=10) / 100
    amounts = asking.amounts(basis, sand, studio.water_per_cement if water is None else water)
    return _Bench(offered, asking.base(offered, base), replace(usual, **changed), studio.currency, lamps, amounts)


def _found(wanted: Shade, bench: _Bench, spectrum: FloatArray | None) -> tuple[list[Recipe], str]:
    """Recipes, best first, and what stops them where none comes near."""
    from ..recipes import explain_reach, find_recipes

    found = find_recipes(
        bench.offered, wanted, base=bench.base, limits=bench.limits, spectrum=spectrum, lights=bench.lamps
    )
    if any(one.in_reach for one in found):
        return found, ""
    return found, explain_reach(bench.offered, wanted, bench.base, bench.limits).sentence


def _many(shades: dict[str, Shade], bench: _Bench, out: Path | None, *, as_json: bool) -> None:
    """One line a target: its first recipe; and which jar more would help them all."""
    from rich.console import Console
    from rich.progress import Progress

    from ..library.files import write_whole
    from ..recipes import recipe_table, table_as_csv, what_to_buy

    console = Console(stderr=True)  # progress for people only: nothing where it is piped
    with Progress(console=console, disable=not console.is_terminal) as bar:
        task = bar.add_task("Looking for recipes", total=len(shades))
        rows = recipe_table(
            bench.offered, shades, bench.base, bench.limits, progress=lambda done, _: bar.update(task, completed=done)
        )
    buy = [one.sentence for one in what_to_buy(bench.offered, list(shades.values()), bench.base, bench.limits)[:2]]
    if out is not None:
        write_whole(out, table_as_csv(rows).encode())
    answer = [
        {"name": row.name, "target": answers.shade(row.wanted), "out_of_reach": row.out_of_reach,
         "recipe": _as_answers([row.recipe])[0]}
        for row in rows
    ]  # fmt: skip
    lines = [*wording.table_of_recipes(rows, buy), *([] if out is None else ["", f"Written: {out}"])]
    answers.tell(lines, {"targets": answer, "worth_buying": buy}, as_json=as_json)


def _as_answers(found: list[Recipe]) -> list[dict[str, Any]]:
    return [answers.recipe(one) for one in found]


def preview(
    load: Annotated[
        list[str], typer.Argument(help='Loads: red-iron-oxide=2 (per cent), "Red iron oxide=2%", titanium-white=10g/kg')
    ],
    base: asking.BaseOption = None,
    basis: asking.BasisOption = None,
    sand: asking.SandOption = 0.0,
    water: asking.WaterOption = None,
    keep: Annotated[str | None, typer.Option(help="Keep it as a swatch of this name.")] = None,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """What a recipe looks like at demould, wet, dry and sealed; one from elsewhere too, given in any --basis."""
    from ..loads import Mix
    from ..studio import studio_palette
    from ..workshop.keeping import keep_mix
    from ..workshop.shelf import defaults

    with asking.opened(library) as opened:
        palette = studio_palette(opened)
        amounts = asking.amounts(basis, sand, defaults(opened).water_per_cement if water is None else water)
        loads = asking.loads(load, palette, None if basis is None else amounts)
        on = asking.base(palette, base)
        shades = {state: palette.predict(loads, on, state) for state in in_order(("dry", *palette.states))}
        kept = None if keep is None else keep_mix(opened, palette, Mix.of(on, loads), name=keep)
    over = asking.over_maximum(loads, palette)
    answer = {"base": on, "loads": loads, "shades": {s: answers.shade(one) for s, one in shades.items()}, "notes": over}
    shown = [] if basis is None else wording.amounts(palette, loads, amounts)
    lines = [*shown, *wording.states(shades), *over, *([] if kept is None else [f"Kept: {kept.name}."])]
    answers.tell(lines, answer, as_json=as_json)


def two_tones(
    first: Annotated[str, typer.Argument(help="A swatch by its name, or a colour: L*,a*,b* or #rrggbb.")],
    second: Annotated[str, typer.Argument(help="The same.")],
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Whether two tones read as two: to most eyes, and to those with a common colour-vision deficiency."""
    from ..difference import delta_e_2000
    from ..saying import compared
    from ..science import seen_with, two_to_every_eye

    with asking.opened(library) as opened:
        one, two = (asking.tone(opened, text).lab for text in (first, second))
    far, seen = float(delta_e_2000(one, two)), seen_with(one, two)
    lines = [
        two_to_every_eye(one, two),
        f"The second is {compared(two, one)}; {far:.1f} dE00 between them.",
        *(f"  {between:5.1f} dE00 with {name}" for name, between in seen.items()),
    ]
    answer = {
        "sentence": lines[0], "delta_e": round(far, 3), "seen_with": {name: round(x, 3) for name, x in seen.items()}
    }  # fmt: skip
    answers.tell(lines, answer, as_json=as_json)
