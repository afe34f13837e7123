"""What is typed on the command line, read and checked: regions, colours, loads, references."""

from __future__ import annotations

import io
import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ..basis import Amounts, MixProportions
from ..errors import InputError, UnknownNameError
from .amounts import per_cent

if TYPE_CHECKING:
    from PIL.Image import Image

    from ..arrays import FloatArray
    from ..lamps import Lamp
    from ..library import Library
    from ..palette import Base, Palette, Pigment
    from ..photo import Chart24, Photo, Surface
    from ..photo.load import PictureSource
    from ..shade import Shade

Region = tuple[float, float, float, float]

LIBRARY = "COLORMATCH_LIBRARY"  # a folder or a database URL, in place of the maker's own; the page reads it too
DEMO = "demo"
BASES = "white-cement, grey-cement"
JARS = (
    "red-iron-oxide, yellow-iron-oxide, black-iron-oxide, brown-iron-oxide, titanium-white, chromium-oxide-green, "
    "cobalt-blue, ultramarine-blue, carbon-black"
)
TABLES = (".csv", ".tsv", ".txt")  # files of spectra
LibraryOption = Annotated[
    str | None,
    typer.Option("--library", help="demo, or a folder or database URL; without it, your own, as the page uses it."),
]
RegionOption = Annotated[
    str | None, typer.Option(help="Where the shade is: x0,y0,x1,y1 in pixels of the upright picture.")
]
CornersOption = Annotated[
    str | None,
    typer.Option(help="The chart's corners: x,y four times, clockwise from the dark-skin patch's. Without: found."),
]
ChartOption = Annotated[
    str | None,
    typer.Option(
        help="Your chart: before November 2014, after November 2014 (when it was made), or a file of its own values; "
        "without, for recipes, the one kept on the page."
    ),
]
GreyOption = Annotated[str | None, typer.Option(help="A grey card or white sheet instead of a chart: x0,y0,x1,y1.")]
GreyFactorOption = Annotated[float, typer.Option(help="The card's reflectance factor: 0.18 grey, about 0.85 white.")]
AnythingOption = Annotated[
    bool, typer.Option("--anything", help="The shade is not cement but a leaf, cloth, paint: it is less certain.")
]
BaseOption = Annotated[
    str | None, typer.Option(help=f"The cement, as on the bag (in the demo {BASES}); without, the one you use.")
]
BasisOption = Annotated[
    str | None,
    typer.Option(
        help="Amounts as: % of cement (usual), % of dry mix, % of total mix, g per kg cement, g per kg dry mix."
    ),
]
SandOption = Annotated[float, typer.Option(help="Sand or filler in the mix, g per g of cement.")]
WaterOption = Annotated[float | None, typer.Option(help="Water in the mix, g per g of cement; without, the studio's.")]


def numbers(text: str, count: int, name: str) -> tuple[float, ...]:
    """`count` numbers separated by commas or blanks."""
    parts = text.replace(",", " ").split()
    try:
        values = tuple(float(part) for part in parts)
    except ValueError:
        values = ()
    if len(values) != count:
        wanted = "a number" if count == 1 else f"{count} numbers separated by commas"
        raise InputError(f"{name} is {text!r}; it must be {wanted}.")
    return values


def region(text: str, name: str = "The region") -> Region:
    """A rectangle in pixels."""
    x0, y0, x1, y1 = numbers(text, 4, name)
    return x0, y0, x1, y1


def one_of(records: Mapping[str, Base | Pigment], text: str, kind: str) -> str:
    """The name of a cement or pigment, given as it stands in the palette or as on the bag or jar."""
    wanted = text.strip().casefold()
    found = [name for name, record in records.items() if wanted in (name.casefold(), record.label.casefold())]
    if len(found) != 1:
        raise UnknownNameError(kind, text, [f"{name} ({record.label})" for name, record in records.items()])
    return found[0]


def pigments(palette: Palette, text: str | None) -> tuple[str, ...]:
    """Names of pigments separated by commas; no text at all is no names, an empty one is refused."""
    found = tuple(part.strip() for part in (text or "").split(",") if part.strip())
    if text is not None and not found:
        raise InputError("A list of pigments is empty; write names separated by commas, or leave the option out.")
    return tuple(one_of(palette.pigments, name, "pigment") for name in found)


def base(palette: Palette, text: str | None) -> str:
    """The cement asked for, or the first of the palette: the one in use."""
    return next(iter(palette.bases)) if text is None else one_of(palette.bases, text, "cement")


def loads(parts: list[str], palette: Palette, given: Amounts | None = None) -> dict[str, float]:
    """`red-iron-oxide=2`, `"Red iron oxide=2%"` or `=20g/kg` of the dry cement, as loads; or numbers in a basis."""
    found: dict[str, float] = {}
    for part in parts:
        name, equals, typed = part.partition("=")
        if not equals:
            raise InputError(f"{part!r} is not a load; write it like red-iron-oxide=2 (per cent of the dry cement).")
        name = one_of(palette.pigments, name, "pigment")
        if name in found:
            raise InputError(f"{name} is given twice; add its two loads up and give it once.")
        if given is None:
            found[name] = per_cent(typed, name=f"The load of {name}", high=10) / 100
        else:
            found[name] = numbers(typed.replace(",", "."), 1, f"The amount of {name}, {given.basis},")[0]
    return found if given is None else given.loads(found)


def over_maximum(loads: dict[str, float], palette: Palette) -> list[str]:
    """A sentence for each pigment over its own maximum."""
    return [
        f"{name} at {load:.1%} is over its own maximum of {palette.pigments[name].maximum_load:.0%} of the dry cement."
        for name, load in loads.items()
        if load > palette.pigments[name].maximum_load + 1e-9
    ]


def picture_place(place: Path) -> Path:
    """Where a picture is to be written; raises InputError when it cannot be."""
    if place.is_dir() or not place.parent.is_dir() or place.suffix.lower() not in (".png", ".jpg", ".jpeg"):
        raise InputError(f"A picture cannot be written to {str(place)!r}; name a .png or .jpg in a folder that exists.")
    return place


def save_picture(picture: Image, place: Path) -> None:
    """Write a picture, whole or not at all; raises InputError when there is no room or no right to."""
    from ..library.files import write_whole

    content = io.BytesIO()
    picture.save(content, "PNG" if place.suffix.lower() == ".png" else "JPEG")
    try:
        write_whole(place, content.getvalue())
    except OSError as error:
        raise InputError(
            f"The picture {str(place)!r} could not be written: {error.strerror or error}. Choose another place."
        ) from error


def photographed(
    photo: PictureSource,
    region_text: str | None,
    corners: str | None,
    grey: str | None,
    grey_factor: float,
    chart: str | None,
    studios: Chart24 | None = None,
    *,
    anything: bool,
) -> Photo:
    """Measure a photograph as asked for; studios: the studio's own chart, where no other is named."""
    from ..photo import Chart24, GreyCard, load_picture, measure_photo
    from ..photo.chart import EDITIONS

    picture = load_picture(photo)  # a missing file is the first thing to say
    if region_text is None:
        raise InputError("Say where the shade is in the photograph: --region x0,y0,x1,y1, in pixels.")
    if grey is not None and (corners is not None or chart is not None):
        raise InputError("Give one reference: --corners or --chart of a chart, or --grey for a card, not both.")
    if chart is not None and chart not in EDITIONS and not Path(chart).is_file():
        raise InputError(f"--chart {chart!r} is no file. Give one, or one of: {', '.join(EDITIONS)}.")
    named = Chart24(edition=chart) if chart in EDITIONS else Chart24(values=chart)
    owned = named if chart or studios is None else studios
    reference: Chart24 | GreyCard = owned
    if grey is not None:
        reference = GreyCard(region=region(grey, "The grey card's region"), reflectance=grey_factor)
    elif corners is not None:
        flat = numbers(corners, 8, "The chart's corners")
        reference = replace(owned, corners=[flat[i : i + 2] for i in range(0, 8, 2)])
    surface: Surface = "anything" if anything else "cement"
    return measure_photo(picture, region=region(region_text), reference=reference, surface=surface)


def colour(lab: str | None, hex_colour: str | None) -> Shade:
    """A colour typed as CIELAB, or else as a screen colour, taken as exact."""
    from ..colorimetry import hex_to_lab
    from ..shade import Shade

    return Shade(numbers(lab, 3, "The colour") if lab is not None else hex_to_lab(hex_colour or ""))


def shades_of(file: Path) -> dict[str, Shade]:
    """The shades of a card by name: a CSV with the columns name and L, a, b, or name and hex."""
    from ..workshop.shade_cards import read_shade_card

    try:
        return read_shade_card(file.read_bytes(), str(file))
    except OSError as error:
        raise InputError(f"The shades could not be read from {str(file)!r} ({error}). Give a CSV in UTF-8.") from None


def spectra(file: Path) -> dict[str, tuple[Shade, FloatArray]]:
    """The shade and the reflectance factors (31,) of each sample of a spectrophotometer's file, taken as exact."""
    from ..colorimetry import reflectance_to_lab
    from ..shade import Shade
    from ..spectrum_files import read_spectra

    return {name: (Shade(reflectance_to_lab(one)), one) for name, one in read_spectra(file).items()}


def spectrum(file: Path, sample: str | None = None) -> tuple[Shade, FloatArray]:
    """One of them, by its name where there are several."""
    found = spectra(file)
    name = sample or next(iter(found))
    if name not in found or (sample is None and len(found) > 1):
        raise InputError(f"{file.name} holds {', '.join(found)}; say which one: --sample {next(iter(found))!r}.")
    return found[name]


def lights(library: Library, texts: list[str] | None) -> list[Lamp]:
    """Lamps by a plain name, any that is known by name, one kept in the library, or a file with its spectrum."""
    from ..lamps import lamp
    from ..spectrum_files import read_tables
    from ..workshop.lights import light

    return [
        lamp(next(iter(read_tables(text).values())), Path(text).stem)
        if Path(text).suffix.lower() in TABLES
        else light(library, text)
        for text in texts or []
    ]


def amounts(basis: str | None, sand: float, water: float) -> Amounts:
    """How amounts are given and shown."""
    return Amounts(basis or "% of cement", MixProportions(sand, water))


def tone(library: Library, text: str) -> Shade:
    """The dry shade of a swatch by its name, or a colour as L*,a*,b* or #rrggbb."""
    from ..library import ShadeRecord, Swatch
    from ..studio import when_measured

    swatch = next((each for each in library.list(Swatch) if each.name.casefold() == text.strip().casefold()), None)
    if swatch is None:
        return colour(None, text) if text.lstrip().startswith("#") else colour(text, None)
    dry = library.list(ShadeRecord, swatch_uid=swatch.uid, state="dry")
    if not dry:
        raise InputError(f"{swatch.name} has no dry shade yet. Measure it, or give a colour: L*,a*,b* or #rrggbb.")
    return max(dry, key=when_measured).shade()


def studios_chart(location: str | None) -> Chart24:
    """The chart that the studio of a library said it has."""
    from ..workshop.charts import own_chart

    with opened(location) as library:
        return own_chart(library)


def opened(location: str | None) -> Library:
    """The library asked for, which must exist; or that of COLORMATCH_LIBRARY, or the maker's own, made when new."""
    from ..library import open_demo, open_library

    if location == DEMO:
        return open_demo()
    if location is not None and "://" not in location and not (Path(location) / "library.sqlite").is_file():
        raise InputError(
            f"There is no library in {location!r}. Check the folder, or make one there: "
            f"colormatch library new {location}"
        )
    return open_library(location or os.environ.get(LIBRARY) or None)
