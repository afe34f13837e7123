"""The swatch library from the command line."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from ..errors import InputError, LibraryError
from . import answers, asking

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
ForceOption = Annotated[bool, typer.Option("--force", help="Replace what is there.")]


def _unless_there(destination: Path, *, force: bool) -> None:
    if destination.exists() and not force:
        raise InputError(f"{destination} is there already. Choose another name, or replace it with --force.")


@app.command("new", epilog="Example: colormatch library new my-studio")
def new(folder: Annotated[Path, typer.Argument(help="A new or empty folder.")]) -> None:
    """Make an empty library in a folder."""
    from ..library import open_library

    if (folder / "library.sqlite").exists():
        raise InputError(f"There is a library in {folder} already. Use it with --library {folder}, or name another.")
    if folder.is_dir() and any(folder.iterdir()):
        raise InputError(f"{folder} holds other files. Name a new or an empty folder for the library.")
    open_library(folder).close()
    typer.echo(f"Made: {folder}")


@app.command("where", epilog="Example: colormatch library where --library demo")
def where(as_json: answers.JsonOption = False, library: asking.LibraryOption = None) -> None:
    """Where the library is and what it holds."""
    from ..library import KINDS

    with asking.opened(library) as opened:
        counts = {kind.replace("_", " "): opened.count(record) for kind, record in KINDS.items()}
        folder = None if opened.folder is None else str(opened.folder)
    lines = [f"  {count:6d}  {kind}" for kind, count in counts.items() if count] or ["It is empty."]
    answer = {"library": folder, "holds": counts}
    answers.tell([f"Library: {folder or 'on a database server'}", *lines], answer, as_json=as_json)


@app.command("export", epilog="Example: colormatch library export my-library.zip")
def export(
    destination: Annotated[Path, typer.Argument(help="A new folder, or a .zip file.")],
    only: Annotated[
        str | None, typer.Option(help="Only what `colormatch find` finds by these words, with all it needs.")
    ] = None,
    force: ForceOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Write the whole library, or a part of it, as a readable folder or zip."""
    from ..library import KINDS, export_library
    from ..workshop.today import find

    _unless_there(destination, force=force)
    with asking.opened(library) as opened:
        chosen = [opened.get(KINDS[each.kind], each.uid) for each in find(opened, only or "")]
        if only is not None and not chosen:
            raise InputError(f"Nothing is called {only!r}. Look with: colormatch find PART-OF-ITS-NAME")
        export_library(opened, destination, None if only is None else chosen)
    typer.echo(f"Written: {destination}")


@app.command("import", epilog="Example: colormatch library import my-library.zip --dry-run")
def import_(
    source: Annotated[Path, typer.Argument(help="A folder or .zip written by export.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would change.")] = False,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Read a folder or zip into the library, all of it or nothing."""
    from ..library import import_library

    with asking.opened(library) as opened:
        report = import_library(opened, source, dry_run=dry_run)
    answer = {"dry_run": dry_run, "added": report.added, "unchanged": report.unchanged, "says": report.sentences()}
    answers.tell([report.text()], answer, as_json=as_json)


@app.command("backup", epilog="Example: colormatch library backup my-library.backup")
def backup(
    destination: Annotated[Path, typer.Argument(help="The new backup file.")],
    force: ForceOption = False,
    even_if_smaller: Annotated[
        bool, typer.Option("--even-if-smaller", help="Replace a backup that holds far more than the library does now.")
    ] = False,
    library: asking.LibraryOption = None,
) -> None:
    """Write a backup and check it by reading it back."""
    from ..library import backup as write_backup

    _unless_there(destination, force=force)
    with asking.opened(library) as opened:
        write_backup(opened, destination, even_if_smaller=even_if_smaller)
    typer.echo(f"Written and checked: {destination}")


@app.command("restore", epilog="Example: colormatch library restore my-library.backup my-studio")
def restore(
    source: Annotated[Path, typer.Argument(help="A backup file.")],
    destination: Annotated[Path, typer.Argument(help="A new, empty folder for the library.")],
) -> None:
    """Make a library from a backup, in a new folder."""
    from ..library import restore as read_backup

    read_backup(source, destination).close()
    typer.echo(f"Restored to: {destination}")


@app.command("check", epilog="Example: colormatch library check --library demo")
def check(as_json: answers.JsonOption = False, library: asking.LibraryOption = None) -> None:
    """Check that rows and photographs belong together and nothing is damaged."""
    with asking.opened(library) as opened:
        problems, unsound = opened.check(), []
        with suppress(LibraryError):  # what cannot be read at all is among the problems
            unsound = [record for record, _ in opened.unsound()]
    lines = [*problems, f"{len(problems)} problems found." if problems else "No problem found."]
    named = [f"{record.KIND.replace('_', '-')} {record.uid}" for record in unsound]
    lines += [f"  colormatch library mend {each} FIELD=VALUE   or   colormatch library bin {each}" for each in named]
    answers.tell(lines, {"problems": problems, "can_be_mended": named}, as_json=as_json)
    if problems:
        raise typer.Exit(1)


KindArgument = Annotated[str, typer.Argument(help="What it is, as check names it: shade, tile, batch.")]
UidArgument = Annotated[str, typer.Argument(help="Its uid, as check names it.")]


@app.command("mend", epilog="Example: colormatch library mend shade 9e8e365d state=dry")
def mend(
    kind: KindArgument,
    uid: UidArgument,
    changes: Annotated[
        list[str], typer.Argument(help='As a table of an export has it: state=dry "load red-iron-oxide=0.02".')
    ],
    library: asking.LibraryOption = None,
) -> None:
    """Correct a kept record that is not allowed any more; nothing after the = means not known."""
    from ..library import kind_called
    from ..library import mend as put_right

    cells = {name: value for name, equals, value in (each.partition("=") for each in changes) if equals}
    if len(cells) < len(changes):
        raise InputError(
            f"Write each change as FIELD=VALUE, once for a field, such as state=dry; not {' '.join(changes)!r}."
        )
    with asking.opened(library) as opened:
        kept = put_right(opened, kind_called(kind), uid, cells)
    typer.echo(f"Corrected: {kind} {kept.uid}")


@app.command("bin", epilog="Example: colormatch library bin shade 9e8e365d")
def bin_(kind: KindArgument, uid: UidArgument, library: asking.LibraryOption = None) -> None:
    """Put a record in the bin, with what belongs to it; the page takes it out again."""
    from ..library import kind_called

    with asking.opened(library) as opened:
        opened.delete(opened.get(kind_called(kind), uid))
    typer.echo(f"In the bin: {kind} {uid}")
