"""Open a photograph: upright, in known colours, within limits, or refused with a plain sentence."""

from __future__ import annotations

import io
import os
import warnings
from contextlib import suppress
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from ..errors import PhotoError
from .icc import read_profile
from .jpeg_chroma import steps_of_means, times_smaller
from .picture import Picture, PictureFacts

if TYPE_CHECKING:
    from PIL.Image import Image

_File: TypeAlias = str | os.PathLike[str] | bytes | bytearray | memoryview

MOST_PIXELS = 64_000_000  # what decoding them takes still fits a small computer; a judgement
MOST_WEBP_PIXELS = 48_000_000  # its decoder takes 16 bytes a pixel (measured), others 4 to 8
# What is opened. Others that the decoder knows start other programs or read other files (EPS, for one).
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "AVIF", "BMP", "GIF")  # and HEIF, with its package
_ENOUGH = 2000  # pixels on the longer side, about: of a larger JPEG no region needs more
_WIDTH = 0x0100
_MODEL, _ORIENTATION, _DATE, _EXIF_BLOCK, _DATE_TAKEN = 0x0110, 0x0112, 0x0132, 0x8769, 0x9003
_FLASH = 0x9209  # its lowest bit: it fired (EXIF 2.32, 4.6.5)
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_GREY_MODES = ("1", "L", "LA", "La", "I;16", "I;16B", "I;16L", "I;16N", "I")


PictureSource: TypeAlias = _File | Picture


def picture_facts(source: PictureSource) -> PictureFacts:
    """Size, camera model, date and profile of a picture, from its header alone; raises PhotoError."""
    if isinstance(source, Picture):
        return source.facts
    try:
        image, _ = _open(source)
        with image:
            return _facts(image, _orientation_of(image)[0], image.size)
    except PhotoError:
        raise
    except Exception as error:
        raise _damaged(error) from None


def load_picture(source: PictureSource) -> Picture:
    """Decode a photograph (JPEG, PNG, TIFF, WebP, AVIF, BMP, GIF; HEIC with the extra), given as path or bytes.

    One that is decoded comes back as it is, so that a file is decoded once for looking at, measuring and proof.
    What 16-bit PNG and TIFF (with opencv-python-headless) and 10-bit HEIC hold beyond 8 bits is used where regions are
    measured, in pictures of at most 32 megapixels. A JPEG of 4000 pixels or more is decoded at half its size or less:
    no region needs more, and it takes a fraction of time and memory.

    Raises PhotoError for anything that is not a whole picture of at most 64 megapixels (WebP: 48) in RGB or grey.
    """
    if isinstance(source, Picture):
        return source
    try:
        image, notes = _open(source)
        bits, size, every, steps = _bits(image), image.size, _decoded_smaller(image), steps_of_means(image)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image.load()
        # After load: some decoders turn the picture themselves and drop the tag.
        orientation, more = _orientation_of(image)
        profile = read_profile(image.info.get("icc_profile"))
        facts = _facts(image, orientation, size if every > 1 else image.size)
        grey = image.mode in _GREY_MODES
        flat, alpha = _as_rgb(image)
    except PhotoError:
        raise
    except MemoryError:
        raise PhotoError("There is not enough memory to open this picture. Save it smaller and try again.") from None
    except Exception as error:  # decoders raise whatever they like on damaged files
        raise _damaged(error) from None
    if not profile.understood and not grey:
        more.append(
            f"The picture's colour profile ({profile.name}) is of a kind that is not read here, so it was "
            "treated as sRGB. With a chart in the frame that is mended; without one, export it as sRGB."
        )
    file = _whole(source) if facts.kind in ("JPEG", "MPO") or bits > 8 else b""
    return Picture(facts, profile, grey, tuple(notes + more + alpha), bits, flat, every, orientation, file, steps)


def preview_image(source: PictureSource, longest: int = 1600) -> Image:
    """The upright picture in sRGB, at most `longest` pixels on its longer side, to look at and mark on.

    Coordinates as fractions 0..1 of it are those of the full picture. Raises PhotoError.
    """
    from PIL import Image

    from ..colorimetry import srgb_encode

    picture = load_picture(source)
    factor = max(1, -(-max(picture.size) // longest))
    pixels = picture.pixels(factor=factor)
    if picture.profile.curves is not None:
        linear = picture.linear(pixels)
        pixels = np.round(255 * np.clip(srgb_encode(linear), 0, 1)).astype(np.uint8)
    return Image.fromarray(pixels)


def to_install(package: str) -> str:
    """What to type for a package that is missing, as README has the program installed."""
    return rf".venv/bin/pip install {package} in the folder of this program (Windows: .venv\Scripts\pip)"


def most_pixels(kind: str | None) -> int:
    """The largest picture that is opened, by what kind of file it is (Pillow's name)."""
    return MOST_WEBP_PIXELS if kind == "WEBP" else MOST_PIXELS


def _open(source: _File) -> tuple[Image, list[str]]:
    from PIL import Image, UnidentifiedImageError

    stream, head = _stream(source)
    formats = formats_of(head)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(stream, formats=formats)
    except Image.DecompressionBombError:
        raise PhotoError(_too_large("far more")) from None
    except UnidentifiedImageError:
        raise PhotoError(
            "This file is not a picture that can be read here. Use JPEG, PNG, TIFF, WebP, AVIF"
            + (" or a whole HEIC file." if "HEIF" in formats else ", BMP or GIF.")
        ) from None
    width, height = image.size
    most = most_pixels(image.format)
    if width * height > most:
        raise PhotoError(_too_large(f"{width * height / 1e6:.0f}", most))
    if image.mode in ("CMYK", "LAB", "HSV", "F"):
        raise PhotoError(
            f"This picture is in {image.mode}, which is for printing or computing; its colours cannot be "
            "measured. Use the camera's own file, or export it as an RGB JPEG with its profile."
        )
    return image, _several_frames(image)


def formats_of(head: bytes) -> list[str]:
    """Which formats (Pillow's names) a file that begins with 12 bytes or more may be opened as; PhotoError for HEIC
    without its package, which is told to Pillow here."""
    heic = head[4:8] == b"ftyp" and head[8:12] in _HEIC_BRANDS
    if heic:
        _register_heic()
    return [*_formats(), *(["HEIF"] if heic else [])]


@cache
def _formats() -> tuple[str, ...]:
    """Those of FORMATS that this installation decodes."""
    from PIL import Image

    Image.preinit()
    for name in ("Tiff", "WebP", "Avif"):  # Image.init would load three dozen more
        with suppress(ImportError):
            import_module(f"PIL.{name}ImagePlugin")
    return tuple(name for name in FORMATS if name in Image.OPEN)


def _bits(image: Image) -> int:
    """Bits a channel of a file that is not yet decoded; Pillow gives 8 of colour."""
    if any(";16" in str(tile[3]) for tile in getattr(image, "tile", ())):
        return 16
    bits = image.info.get("bit_depth", 8)  # of HEIC
    return bits if isinstance(bits, int) and 8 < bits <= 16 else 8


def _decoded_smaller(image: Image) -> int:
    """Have a large JPEG decoded smaller, by its blocks; how many of its pixels a side then are one."""
    every = times_smaller(image.size, _ENOUGH)
    return every if image.draft(None, (image.width // every, image.height // every)) else 1


def _several_frames(image: Image) -> list[str]:
    frames = int(getattr(image, "n_frames", 1) or 1)
    if frames > 1 and image.format != "MPO":  # whose others are the same view, smaller or for depth
        which = "main one" if image.format == "HEIF" else "first"
        return [f"This file holds {frames} pictures; only the {which} was measured."]
    return []


def _stream(source: _File) -> tuple[io.BytesIO | Path, bytes]:
    if isinstance(source, bytes | bytearray | memoryview):
        if not len(source):
            raise PhotoError("The picture file is empty (0 bytes). Copy it from the camera again.")
        return io.BytesIO(source), bytes(source[:16])
    if not isinstance(source, str | os.PathLike):
        raise PhotoError(f"A picture is given as a path or as bytes, not as {type(source).__name__}.")
    path = Path(source)
    try:
        with path.open("rb") as file:
            head = file.read(16)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it cannot be opened"
        raise PhotoError(f"The picture {path.name!r} could not be read: {reason}. Check the name and place.") from None
    if not head:
        raise PhotoError(f"The picture {path.name!r} is empty (0 bytes). Copy it from the camera again.")
    return path, head


def _whole(source: _File) -> bytes:
    return bytes(source) if isinstance(source, bytes | bytearray | memoryview) else Path(source).read_bytes()


def _register_heic() -> None:
    try:
        import pillow_heif
    except ImportError:
        raise PhotoError(
            f"This is a HEIC picture, which needs one more package: {to_install('pillow-heif')}. "
            "Or set the phone to take 'most compatible' pictures (JPEG), or share it as JPEG."
        ) from None
    pillow_heif.register_heif_opener()


def _facts(image: Image, orientation: int, size: tuple[int, int]) -> PictureFacts:
    width, height = size
    tags = getattr(image, "tag_v2", {})  # of a TIFF, which some versions turn on opening
    turned = tags.get(_WIDTH, width) != width
    if orientation >= 5 and not turned:
        width, height = height, width
    model, taken, flash = "", "", False
    try:
        exif = image.getexif()
        model, block = _text(exif.get(_MODEL)), exif.get_ifd(_EXIF_BLOCK)
        taken = _text(block.get(_DATE_TAKEN) or exif.get(_DATE))
        flash = bool(int(block.get(_FLASH, 0)) & 1)
    except Exception:  # damaged notes are no reason to refuse a sound picture
        pass
    profile = read_profile(image.info.get("icc_profile")).name
    return PictureFacts(width, height, image.format or "", model, taken, profile, flash)


def _text(value: object) -> str:
    text = value.decode("ascii", "replace") if isinstance(value, bytes) else str(value or "")
    return "".join(c for c in text if c.isprintable()).strip()[:80]


def _orientation_of(image: Image) -> tuple[int, list[str]]:
    try:
        orientation = image.getexif().get(_ORIENTATION, 1)
    except Exception:
        return 1, ["The picture's notes (EXIF) are damaged; if it lies on its side, turn it and save it again."]
    return (orientation if orientation in range(1, 9) else 1), []


def _as_rgb(image: Image) -> tuple[Image, list[str]]:
    """RGB or 8-bit grey, with a note when part of the picture is see-through."""
    from PIL import Image

    if image.mode in ("RGB", "L"):
        return image, []
    if image.mode.startswith("I"):  # 16-bit grey: Pillow's own conversion would turn it white
        values = np.asarray(image)
        if values.size and (values.min() < 0 or values.max() > 65535):
            raise PhotoError("This picture has 32 bits a channel; export it as an 8- or 16-bit RGB picture.")
        return Image.fromarray((values >> 8).astype(np.uint8)), []
    notes = []
    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        low, _ = image.convert("RGBA").getchannel("A").getextrema()
        if isinstance(low, int | float) and low < 255:
            notes.append("Parts of this picture are see-through; their colours may be meaningless. Use the original.")
    return image.convert("L" if image.mode in _GREY_MODES else "RGB"), notes


def _too_large(megapixels: str, most: int = MOST_PIXELS) -> str:
    return (
        f"This picture has {megapixels} megapixels; at most {most / 1e6:.0f} can be measured. "
        "Set the camera to a smaller size, or cut the picture down around the pieces and the chart."
    )


def _damaged(error: Exception) -> PhotoError:
    detail = " ".join(str(error).split())[:80]
    why = f" ({detail})" if detail else ""
    return PhotoError(f"This picture is damaged or cut short{why}. Copy it from the camera again.")
