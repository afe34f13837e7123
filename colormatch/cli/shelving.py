"""Your shelf from the command line: cements, jars and moulds, as the page keeps them."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from . import answers, asking
from .amounts import grams

app = typer.Typer(invoke_without_command=True, rich_markup_mode=None)
PriceOption = Annotated[float | None, typer.Option(help="Price per kg, in the studio's currency.")]
StockOption = Annotated[str | None, typer.Option(help="What is in it: 500 (g), 500g or 0.5kg.")]


@app.callback()
def shelf(context: typer.Context, as_json: answers.JsonOption = False, library: asking.LibraryOption = None) -> None:
    """What is on your shelf: only this is offered in recipes. Alone, the command lists it."""
    if context.invoked_subcommand is not None:
        return
    from ..workshop.shelf import shelf as here

    with asking.opened(library) as opened:
        found = here(opened)
    rows = [("cement", each) for each in found.cements] + [("pigment", each) for each in found.pigments]
    lines = [
        f"{kind:8} {each.name}  ({each.uid})" + ("" if each.stock_g is None else f", {each.stock_g:g} g")
        for kind, each in rows
    ]
    answer: list[dict[str, Any]] = [
        {"kind": kind, "uid": each.uid, "name": each.name, "like": each.like, "stock_g": each.stock_g}
        for kind, each in rows
    ]
    answers.tell(
        lines or ["Your shelf is empty. Begin with: colormatch shelf cement NAME"], {"shelf": answer}, as_json=as_json
    )


@app.command("cement", epilog='Example: colormatch shelf cement "White cement" --like white-cement')
def cement(
    name: Annotated[str, typer.Argument(help="As on the bag.")],
    kind: Annotated[str, typer.Option(help="quick-setting, portland or other: when to demould and how to cure.")] = "",
    like: Annotated[str, typer.Option(help="white-cement, grey-cement or none: any cement, until a blank tells.")] = "",
    price: PriceOption = None,
    stock: StockOption = None,
    library: asking.LibraryOption = None,
) -> None:
    """Put a bag of cement on the shelf."""
    from ..workshop.materials import add_bag

    with asking.opened(library) as opened:
        kept = add_bag(opened, name, kind=kind, like=like, price_per_kg=price, stock_g=_stock(stock))
    typer.echo(f"On the shelf: {kept.name} ({kept.uid})")


@app.command("jar", epilog='Example: colormatch shelf jar "Brick red" --like red-iron-oxide')
def jar(
    name: Annotated[str, typer.Argument(help="As on the jar.")],
    like: Annotated[
        str, typer.Option(help="The closest known pigment, such as red-iron-oxide; without: not known.")
    ] = "",
    price: PriceOption = None,
    stock: StockOption = None,
    library: asking.LibraryOption = None,
) -> None:
    """Put a jar of pigment on the shelf."""
    from ..workshop.materials import add_jar

    with asking.opened(library) as opened:
        kept = add_jar(opened, name, like=like, price_per_kg=price, stock_g=_stock(stock))
    typer.echo(f"On the shelf: {kept.name} ({kept.uid})")


@app.command("mould", epilog='Example: colormatch shelf mould "Tray" --volume 200')
def mould(
    name: Annotated[str, typer.Argument(help="What you call it.")],
    volume: Annotated[
        float | None, typer.Option(help="What it holds, in ml: fill it with water and weigh that.")
    ] = None,
    fill: Annotated[str | None, typer.Option(help="The wet mix of one filling: 520 (g) or 0.52kg.")] = None,
    cement: Annotated[str | None, typer.Option(help="The dry cement of one filling: 400 (g) or 0.4kg.")] = None,
    library: asking.LibraryOption = None,
) -> None:
    """Keep a mould, by what it holds."""
    from ..workshop.materials import add_mould

    with asking.opened(library) as opened:
        kept = add_mould(
            opened,
            name,
            volume_ml=volume,
            fill_weight_g=_stock(fill, "The fill"),
            cement_g=_stock(cement, "The cement"),
        )
    typer.echo(f"Kept: {kept.name}")


def _stock(text: str | None, name: str = "The stock") -> float | None:
    return None if text is None else grams(text, name=name)
