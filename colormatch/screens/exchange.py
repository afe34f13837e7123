"""The bin; export and import; backup and restore."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from hashlib import sha256
from pathlib import Path

import streamlit as st

from colormatch.errors import LibraryError
from colormatch.library import (
    BackupReport,
    BatchRecord,
    Cement,
    Draft,
    DryingWeight,
    ImportReport,
    LearnedPalette,
    Library,
    Mould,
    Photograph,
    PigmentRecord,
    RecipeRecord,
    Record,
    ShadeRecord,
    Swatch,
    TileRecord,
    backup,
    data_folder,
    export_library,
    import_library,
    records_in,
    restore_into,
)
from colormatch.library.plain import said
from colormatch.library.progress import Progress, quiet
from colormatch.library.writing import pointed_at
from colormatch.screens.blocks import amounts, card, confirmed, head, head_and_button, small
from colormatch.screens.drawing import plain, stamp_words
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.left_out import owner_of
from colormatch.screens.long_work import begin, ended
from colormatch.screens.state import kept, studio
from colormatch.screens.studios import forget_session, library, palette
from colormatch.screens.tiles_all import tile_words

ZIP = "application/zip"
_MOST_SHOWN = 20  # lines of what would change: by eye
COUNTED: dict[str, type[Record]] = {
    "Swatches": Swatch, "Recipes": RecipeRecord, "Test tiles": TileRecord, "Batches": BatchRecord,
    "Photographs": Photograph, "Cements": Cement, "Jars of pigment": PigmentRecord, "Moulds": Mould,
}  # fmt: skip


def bin_part() -> None:
    """What is in the bin, to be restored or thrown away for good."""
    binned = [each for each in library().bin() if not isinstance(each.record, (Draft, LearnedPalette))]
    there = {each.record.uid for each in binned}
    # What went in with what it belongs to comes out with it: a jar's lot, the shades of a tile.
    heads = [each for each in binned if not there & {uid for _, uid in pointed_at(each.record)}]
    show_notice("bin")
    if not heads:
        small("The bin is empty.")
        return
    for each in heads[:_MOST_SHOWN]:
        name = _called(each.record)
        line = f"{said(type(each.record))}, in the bin since {stamp_words(each.binned_at)}"
        with card(f"bin-{each.record.uid}"):
            if head_and_button(name, line, "Restore", f"bin.{each.record.uid}"):
                with guard():
                    library().restore(each.record)
                    say_then_draw("bin", f"Restored: {name}.")
    if len(heads) > _MOST_SHOWN:
        small(f"And {len(heads) - _MOST_SHOWN} more.")
    if confirmed("Empty the bin", "bin-empty", question="All of it will be gone for good, with its history.",
                 sure="Empty it for good"):  # fmt: skip
        with guard():
            say_then_draw("bin", f"{library().empty_bin()} records are gone.")


def _called(record: Record) -> str:
    """Its name; of what has none, what it is of."""
    if isinstance(record, TileRecord):
        return tile_words(record, palette())
    if isinstance(record, ShadeRecord):
        return owner_of(record)[0]
    if isinstance(record, DryingWeight):
        return f"{record.piece}: {record.mass_g:g} g"
    return str(getattr(record, "name", "") or said(type(record)))


def exchange_part() -> None:
    """Out as a readable folder in a zip, in again after a look at what would change; a full backup and back to one."""
    today = date.today().isoformat()
    with card("backup"):
        head("Backup", "everything, with the bin and earlier versions; read back after writing")
        _offer("backup", "Write a backup", f"backup-{today}.zip")
    with card("restore"):
        _restore_part()
    with card("export"):
        head("Export", "plain text, tables and photographs in a zip that any program can read")
        small("Without the bin and earlier versions. Photographs go without the place they were taken at.")
        _offer("export", "Export the library", f"library-{today}.zip")
    with card("import"):
        _import_part()


def _offer(kind: str, label: str, name: str) -> None:
    """Write it, then offer what was written, with the time it was."""
    slot, opened = kept(f"{kind}.content"), library()
    with guard():
        if (content := ended(kind)) is not None:
            st.session_state[slot] = (content, datetime.now())
    if st.button(label, key=f"{kind}.write"):
        begin(kind, label, lambda progress: _written(opened, kind, name, progress))
    if slot in st.session_state:
        written, at = st.session_state[slot]
        label = f"Save {name} ({len(written) / 1e6:.1f} MB, written at {at:%H:%M})"
        st.download_button(label, written, name, ZIP, key=f"{kind}.save", on_click="ignore")


def _written(opened: Library, kind: str, name: str, progress: Progress) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / name
        if kind == "backup":
            backup(opened, target, progress=progress)
        else:
            export_library(opened, target, progress=progress)
        return target.read_bytes()


@contextmanager
def _on_disk(content: bytes, name: str) -> Iterator[Path]:
    """An uploaded file as a file; an error speaks of `The file`, not of where it lies for the moment."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        try:
            yield path
        except LibraryError as error:
            raise LibraryError(str(error).replace(f"{path}", "The file")) from error


def _uploaded(kind: str, label: str) -> bytes | None:
    """The content of a file; the field is empty again once what it held has been taken in."""
    file = st.file_uploader(label, ["zip"], key=f"{kind}.file.{st.session_state.get(kept(f'{kind}.times'), 0)}")
    return None if file is None else file.getvalue()


def _taken_in(kind: str) -> None:
    slot = kept(f"{kind}.times")
    st.session_state[slot] = st.session_state.get(slot, 0) + 1


def _import_part() -> None:
    head("Import", "an exported library; nothing here is ever removed by it")
    if studio() == "demo":
        small("This would go into the demo studio.")
    show_notice("import")
    opened = library()
    with guard():
        if (done := ended("import")) is not None:
            _taken_in("import")
            say_then_draw("import", " ".join(["Imported.", *done.sentences()[:6]]))
        content = _uploaded("import", "Exported library, as a zip")
        if content is None:
            return
        report = _imported(opened, content, dry_run=True)
        st.markdown("This is what would change; nothing has yet:")
        st.markdown("\n".join(f"- {plain(sentence)}" for sentence in report.sentences()))
        if st.button("Import it", type="primary", key=f"import.{sha256(content).hexdigest()[:12]}"):
            begin("import", "Importing", lambda progress: _imported(opened, content, progress=progress))


def _imported(opened: Library, content: bytes, *, dry_run: bool = False, progress: Progress = quiet) -> ImportReport:
    with _on_disk(content, "library.zip") as path:
        return import_library(opened, path, dry_run=dry_run, progress=progress)


def _restore_part() -> None:
    """A backup in the place of what is in the library, which is kept aside first."""
    head("Restore", "a backup in the place of what is here, which is kept aside first")
    show_notice("restore")
    if studio() == "demo":
        small("Only for your own studio: open it at the top.")
        return
    with guard():
        if (aside := ended("restore")) is not None:
            forget_session()
            _taken_in("restore")
            say_then_draw("restore", f"The library is as it was in the backup. What was there before: {aside.path}.")
        content = _uploaded("restore", "Backup, as a zip")
        if content is not None:
            _restore(library(), content)


def _restore(opened: Library, content: bytes) -> None:
    with _on_disk(content, "backup.zip") as path:
        then = records_in(path)
    amounts([(words, f"{opened.count(kind)} now, {then[kind.KIND]} in the backup") for words, kind in COUNTED.items()])
    aside = _aside(opened)
    small(f"What is there now will be kept aside as {aside}. Restoring that file undoes this.")

    def work(progress: Progress) -> BackupReport:
        with _on_disk(content, "backup.zip") as path:
            # The numbers of both were shown, and she said that she is sure.
            return restore_into(opened, path, aside, even_if_smaller=True, progress=progress)

    if confirmed("Restore this backup", "restore-it", question="Put the backup in the place of what is there now?",
                 sure="Restore it"):  # fmt: skip
        begin("restore", "Keeping aside what is there, then restoring", work)


def _aside(opened: Library) -> Path:
    """A new file for what is in the library now: beside it, or beside the usual place for one on a server."""
    folder = (opened.folder or data_folder()) / "kept-aside"
    return folder / f"before-restoring-{datetime.now():%Y-%m-%d-%H%M%S}.zip"
