"""The library as a whole: its bin, taking it out and in, backup."""

from __future__ import annotations

import tempfile
from hashlib import sha256
from pathlib import Path

import streamlit as st

from colormatch.library import backup, export_library, import_library
from colormatch.pages.drawing import moment_words, plain, show_table
from colormatch.pages.guard import guard
from colormatch.pages.state import studio
from colormatch.pages.studios import library

ZIP = "application/zip"


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
    file = st.file_uploader("Exchange file", ["zip"], key="exchange.file")
    if file is not None:
        with guard():
            _take_in(file.getvalue())


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


def _take_in(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "exchange.zip"
        path.write_bytes(content)
        report = import_library(library(), path, dry_run=True)
        st.markdown("This is what would change; nothing has yet:")
        st.markdown("\n".join(f"- {plain(sentence)}" for sentence in report.sentences()))
        if st.button("Take it in", type="primary", key=f"exchange.{sha256(content).hexdigest()[:12]}"):
            done = import_library(library(), path)
            st.success(" ".join(plain(sentence) for sentence in done.sentences()[:6]))
