"""The library as a whole: its bin, taking it out and in, backup."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from hashlib import sha256
from pathlib import Path

import streamlit as st

from colormatch.errors import LibraryError
from colormatch.library import (
    BatchRecord,
    Cement,
    Library,
    Mould,
    Photograph,
    PigmentRecord,
    RecipeRecord,
    Record,
    Swatch,
    TileRecord,
    backup,
    data_folder,
    export_library,
    go_back,
    import_library,
    look_into,
)
from colormatch.screens.drawing import moment_words, plain, show_table
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.state import studio
from colormatch.screens.studios import forget_session, library

ZIP = "application/zip"
_TIMES_BACK = "times gone back"
COUNTED: dict[str, type[Record]] = {
    "Swatches": Swatch, "Recipes": RecipeRecord, "Test tiles": TileRecord, "Batches": BatchRecord,
    "Photographs": Photograph, "Cements": Cement, "Pigments": PigmentRecord, "Moulds": Mould,
}  # fmt: skip


def bin_part() -> None:
    """What is in the bin, to be taken out again or thrown away for good."""
    binned = library().bin()
    if not binned:
        st.info("The bin is empty.")
        return
    names = {each.record.uid: str(getattr(each.record, "name", "") or each.record.uid) for each in binned}
    show_table(
        ["What", "Name", "In the bin since (UTC)"],
        [[each.record.KIND.replace("_", " "), names[each.record.uid], moment_words(each.binned_at)] for each in binned],
        numbers_from=3,
    )
    chosen = st.selectbox("Take out", list(names), format_func=names.__getitem__, key="bin.chosen")
    if st.button("Take it out of the bin", key="bin.restore"):
        with guard():
            library().restore(next(each.record for each in binned if each.record.uid == chosen))
            st.rerun()
    sure = st.checkbox("I want everything in the bin gone for good, with its history", key="bin.sure")
    if st.button("Empty the bin", disabled=not sure, key="bin.empty"):
        with guard():
            st.success(f"{library().empty_bin()} records are gone.")


def exchange_part() -> None:
    """Out as a readable folder in a zip, in again after a look at what would change, and a full backup."""
    st.subheader("Take it out")
    st.markdown("The exchange file is a zip of plain text, tables and photographs that any program can read.")
    st.caption("Photographs go without the place they were taken at; camera, date and colour profile stay with them.")
    _offer("exchange", "Write the exchange file", "library.zip", "without the bin and earlier versions")
    _offer(
        "backup",
        "Write a backup",
        "backup.zip",
        "everything, with the bin and earlier versions; verified after writing",
    )
    st.subheader("Take one in")
    if studio() == "demo":
        st.caption("This would go into the demo studio. Choose your own library at the left to take it in there.")
    show_notice("exchange")
    file = st.file_uploader("Exchange file", ["zip"], key="exchange.file")
    if file is not None:
        with guard(), _on_disk(file.getvalue(), "exchange.zip") as path:
            _take_in(path, sha256(file.getvalue()).hexdigest()[:12])
    _back()


def _offer(kind: str, label: str, name: str, what: str) -> None:
    write, load = st.columns(2)
    slot = f"{kind}|{studio()}"
    if write.button(label, key=f"{kind}.write", help=what, width="stretch"):
        with guard(), st.spinner("Writing"), tempfile.TemporaryDirectory() as folder:
            target = Path(folder) / name
            if kind == "backup":
                backup(library(), target)
            else:
                export_library(library(), target)
            st.session_state[slot] = target.read_bytes()
    if slot in st.session_state:
        content: bytes = st.session_state[slot]
        load.download_button(
            f"Save {name} ({len(content) / 1e6:.1f} MB)", content, name, ZIP, width="stretch", on_click="ignore"
        )


@contextmanager
def _on_disk(content: bytes, name: str) -> Iterator[Path]:
    """An uploaded file as a file; an error speaks of it by its name, not by where it lies for the moment."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        try:
            yield path
        except LibraryError as error:
            raise LibraryError(str(error).replace(f"{path}", f"The file {name}")) from error


def _take_in(path: Path, stamp: str) -> None:
    report = import_library(library(), path, dry_run=True)
    st.markdown("This is what would change; nothing has yet:")
    st.markdown("\n".join(f"- {plain(sentence)}" for sentence in report.sentences()))
    if st.button("Take it in", type="primary", key=f"exchange.{stamp}"):
        done = import_library(library(), path)
        say_then_draw("exchange", " ".join(["Taken in.", *done.sentences()[:6]]))


def _back() -> None:
    """A backup in the place of what is in the library, which is kept aside first."""
    st.subheader("Go back to a backup")
    show_notice("backup")
    if studio() == "demo":
        st.caption("Only for your own library: choose it at the left.")
        return
    st.caption("What is in the library now is first written to a backup of its own, and only then replaced.")
    times = st.session_state.get(_TIMES_BACK, 0)  # an empty field again once it is done
    file = st.file_uploader("Backup file", ["zip"], key=f"backup.file.{times}")
    if file is not None:
        with guard(), _on_disk(file.getvalue(), "backup.zip") as path:
            _go_back(path)


def _go_back(path: Path) -> None:
    then, opened = look_into(path), library()
    rows = [[words, str(opened.count(kind)), str(then[kind.KIND])] for words, kind in COUNTED.items()]
    show_table(["", "In the library now", "In the backup"], rows)
    aside = _aside(opened)
    st.markdown(plain(f"What is there now will be kept aside as {aside}. Taking that file in here undoes this."))
    sure = st.checkbox("Put the backup in the place of what is there now", key="backup.sure")
    if st.button("Go back to this backup", disabled=not sure, key="backup.back"):
        with st.spinner("Keeping aside what is there, then going back"):
            report = go_back(opened, path, aside)
        forget_session()
        st.session_state[_TIMES_BACK] = st.session_state.get(_TIMES_BACK, 0) + 1
        say_then_draw(
            "backup", f"The library is as it was in the backup. What was there before is kept as {report.path}."
        )


def _aside(opened: Library) -> Path:
    """A new file for what is in the library now: beside it, or beside the usual place for one on a server."""
    folder = (opened.folder or data_folder()) / "kept-aside"
    return folder / f"before-going-back-{datetime.now():%Y-%m-%d-%H%M%S}.zip"
