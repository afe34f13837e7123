"""Write `swatches/`: the invented demo studio's library in the exchange format (see colormatch/library/FORMAT.md).

Run from the project root with the test requirements installed: ``python .builders/demo_studio.py [folder]``.
Everything follows from fixed seeds: the same machine writes the same bytes again. It prints what it wrote.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / ".builders")]

from demo_photographs import Picture, cast_tray, take, targets, two_tone_tray  # noqa: E402
from demo_pieces import TWO_TONE, pieces, spectrum  # noqa: E402
from demo_relief import Shot  # noqa: E402
from demo_shelf import shelf  # noqa: E402
from demo_tiles import tiles  # noqa: E402

from colormatch.library import Library, Record, ShadeRecord, Swatch, export_library, open_library  # noqa: E402

COMPUTED_FROM = "the spectra that rendered the photograph"
TOLD = "Rendered by a script from spectra of the simulated studio: nothing in this picture exists."


def main(folder: Path) -> None:
    with tempfile.TemporaryDirectory() as temporary, open_library(temporary) as library:
        library.save_all([*shelf(), *tiles(), *pieces()])
        keep_targets(library, targets())
        keep_fresh_cast(library)
        keep_two_tones(library)
        export_library(library, folder)
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    print(f"{folder}: {size / 1e6:.2f} MB, {len(list((folder / 'photographs').iterdir()))} photographs")


def keep_targets(library: Library, found: Sequence[tuple[str, Picture]]) -> None:
    """Each target as a photograph, a swatch tagged `target` and its true dry shade."""
    for cement, picture in found:
        (region,) = picture.regions
        uid = photograph_of(library, picture)
        swatch = Swatch(
            uid=picture.name,
            name=picture.title,
            cement_uid=cement,
            tags=("target",),
            made_on=picture.taken_on,
            photographs=(uid,),
            notes="A shade the studio was asked for. Its true shade is kept, so that what is measured can be checked.",
        )
        library.save_all([swatch, true_shade(picture, region, "dry", uid, swatch_uid=swatch.uid)])


def keep_fresh_cast(library: Library) -> None:
    """A tray of the batch on the morning it was demoulded."""
    wet = spectrum("rust", "demould")
    picture = take(
        "rust-tray-at-demould",
        "Rust tray at demould",
        cast_tray(wet, wet=True),
        {"tray": wet},
        Shot("camera-a", "window", 0.86, 0.10, 20, seed=21, taken="2026:10:21 09:40:00"),
        TOLD,
    )
    uid = photograph_of(library, picture)
    library.update(Swatch, "swatch-rust", lambda each: replace(each, photographs=(uid,)))
    library.save(true_shade(picture, "tray", "demould", uid, piece_uid="rust-trays-1"))


def keep_two_tones(library: Library) -> None:
    """A finished two-tone tray, both tones in one photograph."""
    recipes = {"first tone": "fog", "second tone": "storm"}
    dry = {region: spectrum(recipe, "dry") for region, recipe in recipes.items()}
    picture = take(
        TWO_TONE,
        "Tide-line tray",
        two_tone_tray(dry["first tone"], dry["second tone"]),
        dry,
        Shot("camera-a", "daylight", 0.82, 0.12, -30, seed=22, taken="2026:11:12 11:15:00"),
        TOLD,
    )
    uid = photograph_of(library, picture)
    for bowl, (region, recipe) in enumerate(recipes.items(), start=1):
        library.update(Swatch, f"swatch-{recipe}", lambda each: replace(each, photographs=(uid,)))
        shade = true_shade(picture, region, "dry", uid, piece_uid="tide-line-trays-1", bowl=str(bowl))
        library.save(shade)


def photograph_of(library: Library, picture: Picture) -> str:
    """Keep the file of a picture; its uid."""
    name = f"{picture.name}.jpg"
    return library.store_photograph(picture.content, file_name=name, taken_on=picture.taken_on, notes=picture.notes).uid


def true_shade(picture: Picture, region: str, state: str, photograph: str, *, bowl: str = "", **owner: str) -> Record:
    """The shade worked out from the spectra the photograph was rendered from, and where it is in the picture."""
    of = "-".join(filter(None, (next(iter(owner.values())), bowl)))
    return ShadeRecord(
        uid=f"{of}-true-{state}",
        state=state,
        lab=picture.lab[region],
        measured_on=picture.taken_on,
        photograph_uid=photograph,
        provenance={
            "kind": "computed",
            "from": COMPUTED_FROM,
            "region": list(picture.regions[region]),
            "chart_corners": picture.chart_corners,
            "grey_card": picture.grey_card,
            "grey_card_reflectance": 0.18,
            **({"bowl": bowl} if bowl else {}),
        },
        **owner,
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "swatches")
