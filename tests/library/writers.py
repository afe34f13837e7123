"""What other processes do in the tests: they save, edit and are killed. Imported by name in those processes."""

import multiprocessing
import os
import random
from dataclasses import replace

from examples import png

from colormatch.library import ShadeRecord, Studio, Swatch, new_uid, open_library

# Other processes are forked from one that has imported these already: a new one then takes milliseconds.
PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["colormatch.library", "alembic.command", "PIL.PngImagePlugin"])


def open_and_save(where, uid):
    """Open a library, which may not be there yet, and save one swatch."""
    with open_library(where) as library:
        library.save(Swatch(uid=uid, name=uid))


def count_up(where, times):
    """Read a number and write it one higher, so many times."""
    with open_library(where) as library:
        for _ in range(times):
            library.update(Studio, "studio", lambda s: replace(s, settings={"n": s.settings["n"] + 1}))


def edit_until_kept(where, times):
    """The same by reading, editing and saving, again whenever someone else was quicker."""
    from colormatch.library import ConflictError

    with open_library(where) as library:
        for _ in range(times):
            while True:
                read = library.get(Studio, "studio")
                try:
                    library.save(replace(read, settings={"n": read.settings["n"] + 1}))
                except ConflictError:
                    continue
                break


def write_for_ever(where, log, seed):
    """Photographs, swatches with shades, edits and deletions without end; each is noted in the log once it is kept.

    The log is written by plain writes to the end of a file: what was written to it survives the process.
    """
    rng = random.Random(seed)
    handle = os.open(log, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    with open_library(where) as library:
        os.write(handle, b"open\n")
        known = []
        while True:
            action = rng.choice(["add", "add", "add", "edit", "delete", "empty"]) if known else "add"
            if action == "add":
                photograph = library.store_photograph(png(rng.randrange(65536), size=(64, 48)))
                uid = new_uid()
                pot = Swatch(uid=uid, name="0", photographs=[photograph.uid], tags=[uid, "x"])
                shades = [
                    ShadeRecord(uid=f"{uid}-{s}", swatch_uid=uid, state=s, lab=(50, 0, 0)) for s in ("dry", "wet")
                ]
                library.save_all([pot, *shades])
                known.append(uid)
                note = f"{uid} 0"
            elif action == "edit":
                uid = rng.choice(known)
                name = library.update(Swatch, uid, lambda s: replace(s, name=str(int(s.name) + 1))).name
                note = f"{uid} {name}"
            elif action == "delete":
                uid = known.pop(rng.randrange(len(known)))
                os.write(handle, f"{uid} going\n".encode())
                library.delete(library.get(Swatch, uid))
                note = f"{uid} gone"
            else:
                library.empty_bin()
                note = "emptied"
            os.write(handle, f"{note}\n".encode())


def save_within(where, most_bytes):
    """Save swatches until no file may grow further; each one must be kept whole, or refused in words."""
    import resource

    from colormatch.library import DiskFullError

    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))
    with open_library(where) as library:
        kept = 0
        try:
            while kept < 1000:
                library.save(Swatch(name=f"kept {kept}", notes="x" * 20_000))
                kept += 1
        except DiskFullError:
            assert sum(s.name.startswith("kept") for s in library.list(Swatch)) == kept
        else:
            raise AssertionError("the limit was never met")
