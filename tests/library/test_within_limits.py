"""Any file that is opened, at its largest or made to do harm: within 10 s and 1 GB, in a process that has no more."""

import json
import os
import re
import struct
import zipfile
import zlib
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import cv2
import numpy as np
import pytest
from examples import fill, png
from measuring import within
from PIL import Image

import colormatch as cm
from colormatch.cli import main
from colormatch.errors import ColormatchError
from colormatch.library import Swatch, backup, export_library, import_library, open_library, records_in, tabulated
from colormatch.palette_file import palette_from_dict, palette_to_dict
from colormatch.photo import preview_image

SECONDS, GIGABYTES = 10, 1.0
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs limits as Linux has them"),
]


def said(work, *arguments):
    """The sentence a maker is told; nothing when the file was taken."""
    try:
        work(*arguments)
    except ColormatchError as error:
        return str(error)
    return ""


def picture(file):
    """Everything that is done to a picture: kept, shown small, marked on, measured."""
    content = file.read_bytes()
    with open_library(file.parent / "library") as library:
        kept = said(lambda: library.thumbnail_bytes(library.store_photograph(content).uid))
    shown = said(preview_image, content)
    card = cm.GreyCard(region=(10, 10, 500, 500), reflectance=0.18)
    measured = said(lambda: cm.measure_photo(content, region=(600, 600, 5000, 5000), reference=card))
    return kept or shown or measured


def saved(file, kind, mode="RGB", side=8000, **options):
    """A picture as large as is taken, its values in stripes."""
    rows = np.broadcast_to(np.arange(side, dtype=np.uint16), (side, side))
    flat = Image.fromarray(rows.copy()) if mode == "I;16" else Image.fromarray((rows % 251).astype(np.uint8))
    (flat if mode == "I;16" else flat.convert(mode)).save(file, kind, **options)


def deep(file):
    """A PNG of 16 bits a channel, as large as is read in full depth."""
    rows = np.broadcast_to(np.arange(5656, dtype=np.uint16)[:, None], (5656, 5656, 3))
    file.write_bytes(cv2.imencode(".png", rows)[1].tobytes())


def by_its_header(file):
    """A PNG that says it is 20 816 pixels square, 1.3 GB of red, green and blue, and holds next to nothing."""
    data = bytearray(png())
    data[16:24] = struct.pack(">II", 20_816, 20_816)
    data[29:33] = struct.pack(">I", zlib.crc32(data[12:29]))
    file.write_bytes(data)


def looping(file):
    """A TIFF directory that goes on with itself."""
    entry = struct.pack("<HHII", 700, 4, 250_000, 14_000)
    file.write_bytes((b"II*\0" + struct.pack("<IH", 8, 1000) + 1000 * entry + struct.pack("<I", 8)).ljust(10**6, b"\1"))


PICTURES = {
    "JPEG of 64 megapixels": (lambda file: saved(file, "JPEG", progressive=True), ""),
    "PNG with transparency": (lambda file: saved(file, "PNG", "RGBA"), ""),
    "PNG of 16 bits a channel": (deep, ""),
    "PNG of 16 bits of grey": (lambda file: saved(file, "PNG", "I;16"), "black and white"),
    "TIFF": (lambda file: saved(file, "TIFF", compression="tiff_deflate"), ""),
    "WebP as large as is taken": (lambda file: saved(file, "WEBP", side=6900, quality=30, method=0), ""),
    "WebP of 64 megapixels": (lambda file: saved(file, "WEBP", quality=30, method=0), "at most 48 megapixels"),
    "PNG of 1.3 GB by its header": (by_its_header, "megapixels|not a photograph"),
    "PNG of metadata": (
        lambda file: file.write_bytes(b"\x89PNG\r\n\x1a\n" + b"eXIfII*\0\x08\0\0\0\xe7\3" * 70_000),
        ".",
    ),
    "looping TIFF": (looping, "."),
}


@pytest.mark.parametrize("kind", PICTURES)
def test_a_picture(tmp_path, kind):
    make, sentence = PICTURES[kind]
    make(tmp_path / "picture")
    told = within(SECONDS, GIGABYTES, picture, tmp_path / "picture")
    assert re.search(sentence, told) if sentence else told == "", told


def swollen(file, member, megabytes):
    """The zip with one member that unpacks to so much."""
    with zipfile.ZipFile(file) as source:
        parts = {name: source.read(name) for name in source.namelist() if name != member}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as target:
        for name, content in parts.items():
            target.writestr(name, content)
        with target.open(member, "w", force_zip64=True) as part:
            for _ in range(megabytes):
                part.write(bytes(2**20))


def restored(file):
    """What is asked of a backup."""
    return said(records_in, file)


def imported(file):
    """What is asked of an exchange zip."""
    with open_library(file.parent / "into") as library:
        return said(import_library, library, file)


@pytest.mark.parametrize(
    ("write", "read", "member"),
    [(backup, restored, "library.sqlite"), (export_library, imported, "weighings.csv")],
    ids=["backup", "exchange"],
)
def test_a_zip_of_a_megabyte_that_unpacks_to_a_gigabyte(tmp_path, write, read, member):
    with open_library(tmp_path / "studio") as library:
        fill(library)
        write(library, tmp_path / "good.zip")
    swollen(tmp_path / "good.zip", member, 1024)
    assert (tmp_path / "good.zip").stat().st_size < 2_000_000
    assert "would swell" in within(SECONDS, GIGABYTES, read, tmp_path / "good.zip")


def toml(text):
    """What is asked of a TOML file."""
    return said(tabulated.toml_content, text, "moulds.toml")


def table(text):
    """What is asked of a CSV file."""
    return said(tabulated.from_csv, Swatch, text, "swatches.csv")


def palette(text):
    """What is asked of a kept palette."""
    return said(lambda: palette_from_dict(json.loads(text)))


def with_zeros(many):
    """A palette whose first row of numbers is so long."""
    content = palette_to_dict(cm.starter_palette())
    content["mean"] = [0] * many
    return json.dumps(content)


TEXTS = {
    "TOML: a dotted key of 60 kB": (toml, lambda: ".".join(["a"] * 30_000) + " = 1", "keys of at most 50 parts"),
    "TOML: as long as is taken": (
        toml,
        lambda: "".join(f"[[x]]\na{i} = {{b = '{'y' * 30}'}}\n" for i in range(99_000)),
        "",
    ),
    "CSV: a million lines": (table, lambda: "uid,name\n" + "".join(f"s{i},x\n" for i in range(10**6)), "100000 lines"),
    "CSV: as long as is taken": (table, lambda: "uid,name\n" + "".join(f"s{i},x\n" for i in range(10**5)), ""),
    "palette: 15 000 zeros": (palette, lambda: with_zeros(15_000), "damaged"),
    "palette: 5 million zeros": (palette, lambda: with_zeros(5_000_000), "damaged"),
}


@pytest.mark.parametrize("kind", TEXTS)
def test_a_text(kind):
    read, make, sentence = TEXTS[kind]
    told = within(SECONDS, GIGABYTES, read, make())
    assert (sentence in told) if sentence else told == "", told[:300]


def drying(first):
    """The status that weights beginning with this are answered with."""
    try:
        main(["drying", first, "1=401", "2=395"])
    except SystemExit as left:
        return left.code or 0
    return 0


@pytest.mark.parametrize(("first", "status"), [("0=1e9", 0), ("0=1e308", 0), ("1e9=412", 2)])
def test_weights_beyond_all_reason(first, status):
    """A weight that the others contradict is left out and named; a day that is none is refused."""
    assert within(SECONDS, GIGABYTES, drying, first) == status


def test_the_limits_do_end_what_goes_over_them():
    """So that the tests above can fail."""
    with pytest.raises(MemoryError, match=r"^$"):
        within(SECONDS, 0.2, bytes, 400_000_000)
    with pytest.raises(BrokenProcessPool, match="terminated abruptly"):
        within(1, GIGABYTES, _for_ever)


def _for_ever():
    while True:
        os.getpid()
