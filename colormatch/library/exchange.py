"""The whole library, or a selection, as a readable folder or zip, and back: all of it or nothing.

The content is the same for the same records, byte for byte: records in the order of their uids, no dates of
now, so that an exported folder can be kept under version control. FORMAT.md describes the files.
"""

from __future__ import annotations

import stat
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from importlib.resources import files as package_files
from pathlib import Path
from typing import Any

import sqlalchemy as sa
import tomli_w

from ..errors import LibraryError
from . import tabulated
from .archive import zip_holds
from .errors import ExchangeError
from .fields import specs
from .files import SUFFIXES, sha256_of, whole
from .materials import Studio
from .places import without_place
from .plain import said
from .progress import Progress, part, quiet
from .record import Record
from .records import KINDS, LearnedPalette, Photograph, ShadeRecord
from .rows import read_records
from .schema import TABLES, users_of
from .store import Library
from .writing import pointed_at

FORMAT = "colormatch-library"
FORMAT_VERSION = 2
LIBRARY_FILE, CHECKSUMS_FILE, SPECTRA_FILE, README_FILE = "library.toml", "checksums.csv", "spectra.csv", "README.md"
IN_CSV = ("cement_lot", "pigment_lot", "photograph", "tile", "weighing", "swatch", "piece", "drying_weight", "shade")
_SUFFIXES = SUFFIXES | {"application/json": ".json", "application/x-npz": ".npz"}
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)

Put = Callable[[str, bytes], None]


def export_library(
    library: Library, target: str | Path, selection: Iterable[Record] | None = None, *, progress: Progress = quiet
) -> Path:
    """Write the library, or a selection with all it needs, to a folder, or to a zip if target ends in `.zip`.

    The target must be new, or an earlier export, which is replaced once the new one is complete. What is in
    the bin and the history are not exported; a backup holds them. Photographs go without the place they were
    taken at. Raises ExchangeError, LibraryError.
    """
    target = Path(target)
    with library.database.reading() as connection:
        chosen = _everything(connection) if selection is None else _closure(connection, selection)
        opened = _zip_target(target) if target.suffix.lower() == ".zip" else _folder_target(target)
        with library.database.translated(target), opened as put:
            chosen, kept_as = _without_places(chosen, lambda uid: library.photographs.get(connection, uid))
            progress(0.3)
            _write(
                put,
                chosen,
                lambda each: without_place(library.photographs.get(connection, kept_as[each.uid])),
                part(progress, 0.3, 1.0),
            )
    return target


def _without_places(
    chosen: dict[str, list[Record]], content_of: Callable[[str], bytes]
) -> tuple[dict[str, list[Record]], dict[str, str]]:
    """The records with every photograph as it is given away, without its place; uid given away -> uid kept.

    The uid of a photograph is the sha256 of its file, so one that held a place gets another, in all that points at it;
    the same picture kept with and without its place is given away once.
    """
    given = {each.uid: sha256_of(without_place(content_of(each.uid))) for each in chosen["photograph"]}
    kept_as = {uid: kept for kept, uid in given.items()}
    if all(uid == kept for kept, uid in given.items()):
        return chosen, kept_as
    pointing = {name: [_pointing(each, given) for each in records] for name, records in chosen.items()}
    return {name: list({each.uid: each for each in records}.values()) for name, records in pointing.items()}, kept_as


def _pointing(record: Record, given: Mapping[str, str]) -> Record:
    """A record that points at photographs by the uids they are given away with."""
    changed: dict[str, Any] = {"uid": given[record.uid]} if isinstance(record, Photograph) else {}
    for name, spec in specs(type(record)).items():
        value = getattr(record, name)
        if spec.kind == "photograph" and value:
            changed[name] = given[value] if isinstance(value, str) else tuple(given[uid] for uid in value)
    return replace(record, **changed) if changed else record


def file_of(kind: type[Record]) -> str:
    """The file that holds the records of a kind."""
    return f"{kind.TABLE}.csv" if kind.KIND in IN_CSV else f"{kind.TABLE}.toml"


FILES = {LIBRARY_FILE, CHECKSUMS_FILE, SPECTRA_FILE, README_FILE, *map(file_of, KINDS.values())}


def file_beside(record: Photograph | LearnedPalette) -> str:
    """Where the file of a photograph, or the payload of a learned palette, is."""
    return f"{record.TABLE}/{record.uid}{_SUFFIXES.get(record.media_type, '.bin')}"


def _everything(connection: sa.Connection) -> dict[str, list[Record]]:
    return {
        kind.KIND: read_records(connection, kind, TABLES[kind.KIND].c.binned_at.is_(None)) for kind in KINDS.values()
    }


def _closure(connection: sa.Connection, selection: Iterable[Record]) -> dict[str, list[Record]]:
    """The selection, what it points at, what belongs to it (shades, weighings), and so on; and the studio."""
    everything = {name: {each.uid: each for each in records} for name, records in _everything(connection).items()}
    belonging: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for kind in KINDS:
        for other, field, owned in users_of(kind):
            for each in everything[other].values() if owned else ():
                belonging.setdefault((kind, getattr(each, field) or ""), []).append((other, each.uid))
    waiting = [(record.KIND, record.uid) for record in selection] + [("studio", uid) for uid in everything["studio"]]
    chosen: set[tuple[str, str]] = set()
    while waiting:
        kind, uid = waiting.pop()
        if (kind, uid) in chosen:
            continue
        if uid not in everything[kind]:
            raise LibraryError(f"The {said(kind)} {uid[:60]!r} is not in the library, or is in the bin.")
        chosen.add((kind, uid))
        waiting += pointed_at(everything[kind][uid]) + belonging.get((kind, uid), [])
    return {name: [r for uid, r in records.items() if (name, uid) in chosen] for name, records in everything.items()}


def _write(
    put: Put, chosen: dict[str, list[Record]], photograph_bytes: Callable[[Photograph], bytes], progress: Progress
) -> None:
    """Every file, then their checksums."""
    sums: list[tuple[str, str]] = []

    def put_and_sum(name: str, content: bytes) -> None:
        put(name, content)
        sums.append((name, sha256_of(content)))

    for name, text in _texts(chosen):
        put_and_sum(name, text.encode())
    for record in chosen["learned_palette"]:
        if isinstance(record, LearnedPalette) and record.payload:
            put_and_sum(file_beside(record), record.payload)
    for number, record in enumerate(chosen["photograph"]):
        progress(number / len(chosen["photograph"]))
        if isinstance(record, Photograph):
            put_and_sum(file_beside(record), photograph_bytes(record))
    put(CHECKSUMS_FILE, tabulated.csv_text([("file", "sha256"), *sorted(sums)]).encode())
    progress(1.0)


def _texts(chosen: dict[str, list[Record]]) -> Iterator[tuple[str, str]]:
    studio = next((each for each in chosen["studio"] if isinstance(each, Studio)), None)
    head: dict[str, object] = {"format": FORMAT, "format_version": FORMAT_VERSION}
    if studio:
        head["studio"] = tabulated.exported(studio)
    yield LIBRARY_FILE, tomli_w.dumps(head)
    yield README_FILE, _readme(studio)
    for name, kind in KINDS.items():
        if name != "studio" and chosen[name]:
            yield file_of(kind), (tabulated.to_csv if name in IN_CSV else tabulated.to_toml)(kind, chosen[name])
    spectra = [
        (each.uid, dict(zip(each.wavelength_nm, each.reflectance, strict=True)))
        for each in chosen["shade"]
        if isinstance(each, ShadeRecord) and each.reflectance
    ]
    if spectra:
        yield SPECTRA_FILE, tabulated.to_spectra_csv(spectra)


def _readme(studio: Studio | None) -> str:
    invented = "**Everything in this library is invented**: no studio, batch or measurement in it is real.\n\n"
    format_text = package_files(__package__).joinpath("FORMAT.md").read_text(encoding="utf-8")
    warning = invented if studio and studio.invented else ""
    return f"# A swatch library in the exchange format\n\n{warning}{format_text}"


@contextmanager
def _zip_target(target: Path) -> Iterator[Put]:
    """A new zip beside the target that takes its place when it is complete."""
    if target.exists() and not zip_holds(target, LIBRARY_FILE):
        raise ExchangeError(f"{target} is there already and is not an earlier export. Choose another name.")
    target.parent.mkdir(parents=True, exist_ok=True)
    with whole(target) as file, zipfile.ZipFile(file, "w") as archive:
        yield lambda name, content: _add(archive, name, content)


def _add(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    entry = zipfile.ZipInfo(name, date_time=_ZIP_DATE)
    entry.external_attr = (stat.S_IFREG | 0o644) << 16
    entry.create_system = 3
    entry.compress_type = zipfile.ZIP_STORED if name.startswith(Photograph.TABLE) else zipfile.ZIP_DEFLATED
    archive.writestr(entry, content)


@contextmanager
def _folder_target(target: Path) -> Iterator[Put]:
    """A new folder beside the target that takes its place when it is complete."""
    _require_replaceable(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=".part-") as temporary:
        fresh = Path(temporary) / "fresh"

        def put(name: str, content: bytes) -> None:
            path = fresh / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)

        yield put
        if target.exists():
            target.rename(Path(temporary) / "old")
        fresh.rename(target)


def _require_replaceable(target: Path) -> None:
    if not target.exists():
        return
    if not target.is_dir():
        raise ExchangeError(f"{target} is a file; choose a folder, or a name that ends in .zip.")
    if not any(target.iterdir()):
        return
    known = {*FILES, Photograph.TABLE, LearnedPalette.TABLE}
    strange = sorted(path.name for path in target.iterdir() if path.name not in known)
    if strange or not (target / LIBRARY_FILE).is_file():
        raise ExchangeError(
            f"{target} holds other files ({', '.join(strange[:5]) or 'and no library.toml'}), which an "
            "export would remove. Choose a new folder, or an earlier export."
        )
