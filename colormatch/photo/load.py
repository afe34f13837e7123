"""Open a photograph: upright, in known colours, within limits, or refused with a plain sentence."""

from __future__ import annotations

import io
import os
import warnings
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache, cached_property
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..errors import PhotoError
from . import deep
from .icc import ColourProfile, read_profile
from .jpeg_chroma import FineChroma, fine_chroma

if TYPE_CHECKING:
    from PIL.Image import Image

_File: TypeAlias = str | os.PathLike[str] | bytes | bytearray | memoryview
Box: TypeAlias = tuple[int, int, int, int]
Bytes: TypeAlias = NDArray[np.uint8]
Encoded: TypeAlias = NDArray[np.uint8 | np.float32]  # in steps of 8 bits, with fractions where a file has them

MOST_PIXELS = 64_000_000  # what decoding them takes still fits a small computer; a judgement
MOST_WEBP_PIXELS = 48_000_000  # its decoder takes 16 bytes a pixel (measured), others 4 to 8
PREVIEW = 800  # pixels: enough to find a chart and to see how the light falls
# What is opened. Others that the decoder knows start other programs or read other files (EPS, for one).
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "AVIF", "BMP", "GIF")  # and HEIF, with its package
_WIDTH = 0x0100
_MODEL, _ORIENTATION, _DATE, _EXIF_BLOCK, _DATE_TAKEN = 0x0110, 0x0112, 0x0132, 0x8769, 0x9003
_FLASH = 0x9209  # its lowest bit: it fired (EXIF 2.32, 4.6.5)
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_GREY_MODES = ("1", "L", "LA", "La", "I;16", "I;16B", "I;16L", "I;16N", "I")
_RGB_KINDS = ("PNG", "TIFF", "BMP", "GIF")
# EXIF orientation -> the turn that makes the stored picture upright (PIL.Image.Transpose).
_TURN = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}


@dataclass(frozen=True)
class PictureFacts:
    """What a picture's header says. width, height: pixels of the upright picture. flash: whether it fired."""

    width: int
    height: int
    kind: str
    model: str
    taken_on: str
    profile: str
    flash: bool = False


@dataclass(frozen=True, eq=False)
class Picture:
    """A decoded photograph. Coordinates are pixels of the upright picture, x to the right, y down."""

    facts: PictureFacts
    profile: ColourProfile
    grey: bool
    warnings: tuple[str, ...]
    bits: int  # a channel
    _image: Image = field(repr=False)
    _orientation: int
    _file: bytes = field(default=b"", repr=False)  # when more can be had of it than was decoded

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels, upright."""
        return self.facts.width, self.facts.height

    def pixels(self, box: Box | None = None, factor: int = 1) -> Bytes:
        """Encoded 8-bit values (rows, columns, 3) of a box, averaged over factor x factor pixels."""
        return self._upright(
            _reduced(self._image, _stored_box(box or (0, 0, *self.size), self._orientation, self.size), factor)
        )

    def _upright(self, image: Image) -> Bytes:
        turn = _TURN.get(self._orientation)
        if turn is not None:
            from PIL.Image import Transpose

            image = image.transpose(Transpose(turn))
        return np.asarray(image if image.mode == "RGB" else image.convert("RGB"))

    def picked(self, box: Box, step: int = 1) -> Encoded:
        """Encoded values of every step-th pixel of a box, both ways: as they are, where an average would be rounded."""
        if self._deep is not None:
            (x0, y0, x1, y1), first = box, step // 2
            rows, columns = max(1, (y1 - y0) // step), max(1, (x1 - x0) // step)
            return self._deep.picked(slice(y0 + first, y1, step), slice(x0 + first, x1, step))[:rows, :columns]
        return self._picked(box, step)

    def _picked(self, box: Box, step: int) -> Bytes:
        x0, y0, x1, y1 = box
        columns, rows = max(1, (x1 - x0) // step), max(1, (y1 - y0) // step)
        # What is left over is cut off in the upright picture: there the caller counts from the top left.
        whole = (x0, y0, min(x0 + columns * step, x1), min(y0 + rows * step, y1))
        within = _stored_box(whole, self._orientation, self.size)
        size = (columns, rows) if self._orientation < 5 else (rows, columns)  # from 5 on it lies on its side
        return self._upright(self._image.resize(size, 0, within))  # 0: the nearest pixel

    def preview(self, longest: int = PREVIEW) -> Bytes:
        """The whole picture reduced by a whole number to about `longest` pixels; the usual one is kept."""
        factor = max(1, round(max(self.size) / longest))
        return self._usual_preview if factor == self._usual_factor else self.pixels(factor=factor)

    @cached_property
    def _usual_preview(self) -> Bytes:
        return self.pixels(factor=self._usual_factor)

    @property
    def _usual_factor(self) -> int:
        return max(1, round(max(self.size) / PREVIEW))

    @property
    def in_planes(self) -> bool:
        """Whether the file keeps luma and colour differences instead of red, green and blue."""
        return self.facts.kind not in _RGB_KINDS

    @cached_property
    def _deep(self) -> deep.Deep | None:
        width, height = self.size
        if self.bits <= 8 or width * height > deep.MOST_PIXELS or self._orientation != 1:
            return None
        every = self._usual_factor
        eight = self._picked((0, 0, width, height), every)
        return deep.deep_picture(self._file, self.facts.kind, self.bits, eight, every)

    @property
    def step(self) -> float:
        """How finely values are read, in steps of 8 bits."""
        return 1.0 if self._deep is None else self._deep.step

    @property
    def lost_depth(self) -> bool:
        """Whether the file holds more bits a channel than the 8 that are read."""
        return self.bits > 8 and self._deep is None

    @cached_property
    def finer(self) -> FineChroma | None:
        """The picture's colour finer than in steps of 8 bits, for a JPEG; decoded when first asked for."""
        return fine_chroma(self._file, _TURN.get(self._orientation))

    def linear(self, encoded: Encoded | FloatArray) -> FloatArray:
        """Linear sRGB (..., 3) of encoded values in steps of 8 bits, by the picture's own profile."""
        if encoded.dtype == np.uint8:
            return self.profile.linear(encoded.astype(np.uint8, copy=False))
        low = np.clip(np.floor(encoded), 0, 254).astype(np.uint8)
        share = encoded - low
        return np.asarray((1 - share) * self.profile.linear(low) + share * self.profile.linear(low + np.uint8(1)))


PictureSource: TypeAlias = _File | Picture


def picture_facts(source: PictureSource) -> PictureFacts:
    """Size, camera model, date and profile of a picture, from its header alone; raises PhotoError."""
    if isinstance(source, Picture):
        return source.facts
    try:
        image, _ = _open(source)
        with image:
            return _facts(image, _orientation_of(image)[0])
    except PhotoError:
        raise
    except Exception as error:
        raise _damaged(error) from None


def load_picture(source: PictureSource) -> Picture:
    """Decode a photograph (JPEG, PNG, TIFF, WebP, AVIF, BMP, GIF; HEIC with the extra), given as path or bytes.

    One that is decoded comes back as it is, so that a file is decoded once for looking at, measuring and proof.
    What 16-bit PNG and TIFF (with opencv-python-headless) and 10-bit HEIC hold beyond 8 bits is used where regions are
    measured, in upright pictures of at most 32 megapixels.

    Raises PhotoError for anything that is not a whole picture of at most 64 megapixels (WebP: 48) in RGB or grey.
    """
    if isinstance(source, Picture):
        return source
    try:
        image, notes = _open(source)
        bits = _bits(image)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image.load()
        # After load: some decoders turn the picture themselves and drop the tag.
        orientation, more = _orientation_of(image)
        profile = read_profile(image.info.get("icc_profile"))
        facts = _facts(image, orientation)
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
    return Picture(facts, profile, grey, tuple(notes + more + alpha), bits, flat, orientation, file)


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


def most_pixels(kind: str | None) -> int:
    """The largest picture that is opened, by what kind of file it is (Pillow's name)."""
    return MOST_WEBP_PIXELS if kind == "WEBP" else MOST_PIXELS


def _open(source: _File) -> tuple[Image, list[str]]:
    from PIL import Image, UnidentifiedImageError

    stream, head = _stream(source)
    heic = head[4:8] == b"ftyp" and head[8:12] in _HEIC_BRANDS
    if heic:
        _register_heic()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(stream, formats=[*_formats(), *(["HEIF"] if heic else [])])
    except Image.DecompressionBombError:
        raise PhotoError(_too_large("far more")) from None
    except UnidentifiedImageError:
        raise PhotoError(
            "This file is not a picture that can be read here. Use JPEG, PNG, TIFF, WebP, AVIF"
            + (" or a whole HEIC file." if heic else ", BMP or GIF.")
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
            "This is a HEIC picture, which needs one more package: pip install pillow-heif. "
            "Or set the phone to take 'most compatible' pictures (JPEG), or share it as JPEG."
        ) from None
    pillow_heif.register_heif_opener()


def _facts(image: Image, orientation: int) -> PictureFacts:
    width, height = image.size
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


def _stored_box(box: Box, orientation: int, size: tuple[int, int]) -> Box:
    """A box of the upright picture in pixels of the stored one."""
    (x0, y0, x1, y1), (w, h) = box, size
    return {
        2: (w - x1, y0, w - x0, y1),
        3: (w - x1, h - y1, w - x0, h - y0),
        4: (x0, h - y1, x1, h - y0),
        5: (y0, x0, y1, x1),
        6: (y0, w - x1, y1, w - x0),
        7: (h - y1, w - x1, h - y0, w - x0),
        8: (h - y1, x0, h - y0, x1),
    }.get(orientation, box)


def _reduced(image: Image, box: Box, factor: int) -> Image:
    return image.crop(box) if factor == 1 else image.reduce(factor, box=box)


def _too_large(megapixels: str, most: int = MOST_PIXELS) -> str:
    return (
        f"This picture has {megapixels} megapixels; at most {most / 1e6:.0f} can be measured. "
        "Set the camera to a smaller size, or cut the picture down around the pieces and the chart."
    )


def _damaged(error: Exception) -> PhotoError:
    detail = " ".join(str(error).split())[:80]
    why = f" ({detail})" if detail else ""
    return PhotoError(f"This picture is damaged or cut short{why}. Copy it from the camera again.")
