"""What a command answers: lines for people, or the same as JSON for a script."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ..states import in_order

if TYPE_CHECKING:
    from ..photo import Photo
    from ..recipes import Recipe
    from ..shade import Shade

JsonOption = Annotated[bool, typer.Option("--json", help="The answer as JSON, for a script.")]


def tell(lines: Iterable[str], answer: Mapping[str, Any], *, as_json: bool) -> None:
    """Print one of the two."""
    typer.echo(json.dumps(answer, ensure_ascii=False, indent=1, allow_nan=False) if as_json else "\n".join(lines))


def shade(given: Shade) -> dict[str, Any]:
    """CIELAB (D65, 2 degree), its sd and covariance, and the nearest colour of a screen."""
    from ..colorimetry import lab_to_hex

    return {
        "lab": [round(float(value), 3) for value in given.lab],
        "sd": round(given.sd, 3),
        "covariance": [[round(float(value), 4) for value in row] for row in given.covariance],
        "hex": lab_to_hex(given.lab),
    }


def named_shade(given: Shade) -> dict[str, Any]:
    """The same with its Munsell notation, where it has one."""
    from ..science import munsell

    return shade(given) | {"munsell": munsell(given.lab)}


def photo(measured: Photo) -> dict[str, Any]:
    """The shade of a photograph, how well its reference fits, and its warnings."""
    error = float(measured.reference_error)
    return {
        "shade": shade(measured.shade),
        "reference_error": None if math.isnan(error) else round(error, 3),
        "warnings": list(measured.warnings),
    }


def recipe(found: Recipe) -> dict[str, Any]:
    """One recipe: loads in g per g of dry cement, grams, and what to expect."""
    return {
        "base": found.base,
        "cement_g": found.cement_g,
        "loads": {name: round(load, 6) for name, load in found.loads.items()},
        "grams": dict(found.grams),
        "weighing": [{"what": what, "grams": grams} for what, grams in found.preblended.weighing(found.palette.label)],
        "delta_e": round(found.delta_e, 3),
        "expected_delta_e": round(found.expected_delta_e, 3),
        "likely_delta_e": round(found.likely_delta_e, 3),
        "inconstancy": round(found.inconstancy, 3),
        "metamerism": None if found.metamerism is None else round(found.metamerism, 3),
        "cost": found.cost,
        "verdict": found.verdict,
        "cautions": list(found.cautions),
        "shades": {state: shade(found.predict(state)) for state in in_order(("dry", *found.palette.states))},
    }
