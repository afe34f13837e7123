"""Taking an exchange folder or zip into a library: checked as a whole first, then all of it or nothing."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from . import bin as bins
from . import tabulated, writing
from .archive import Source, opened
from .errors import ExchangeError
from .exchange import (
    CHECKSUMS_FILE,
    FILES,
    FORMAT,
    FORMAT_VERSION,
    IN_CSV,
    LIBRARY_FILE,
    SPECTRA_FILE,
    file_beside,
    file_of,
)
from .files import MOST_BYTES, describe, sha256_of
from .materials import Studio
from .plain import plain, record_from, said
from .progress import Progress, part, quiet
from .record import Record
from .records import KINDS, LearnedPalette, Photograph, ShadeRecord
from .rows import read_records
from .schema import TABLES
from .store import Library
from .values import now

_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Change:
    """A record that the import would change: field -> (what is there, what comes)."""

    kind: str
    uid: str
    fields: dict[str, tuple[Any, Any]]
    from_bin: bool = False


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did, or, after a dry run, would do."""

    dry_run: bool
    studio: Studio | None
    added: dict[str, list[str]] = field(default_factory=dict)
    changed: list[Change] = field(default_factory=list)
    unchanged: int = 0
    warnings: list[str] = field(default_factory=list)

    def sentences(self) -> list[str]:
        """The report in plain sentences."""
        would = "would be" if self.dry_run else "were"
        lines = [f"{len(uids)} {said(kind)} records {would} added." for kind, uids in self.added.items()]
        for change in self.changed:
            what = ", ".join(change.fields) or "nothing but its place"
            bin_note = " and come out of the bin" if change.from_bin else ""
            lines.append(f"{said(change.kind)} {change.uid}: {what} {would} changed{bin_note}.")
        return [*lines, f"{self.unchanged} records are the same already.", *self.warnings]

    def text(self) -> str:
        """The report in plain sentences, one a line."""
        return "\n".join(self.sentences())


@dataclass(frozen=True, slots=True)
class Package:
    """The checked content of an exchange folder or zip."""

    source: Source
    studio: Studio | None
    records: dict[str, list[Record]]
    warnings: list[str]


def import_library(
    library: Library, path: str | Path, dry_run: bool = False, *, progress: Progress = quiet
) -> ImportReport:
    """Take in an exported folder or zip; a record with a uid that is there is changed, its history kept.

    dry_run: change nothing, only report. Nothing is ever removed. The name and settings of the studio are
    taken over only by an empty library. Raises ExchangeError for anything damaged, unsafe or not understood;
    then, as after any other error, the library is as it was.
    """
    with opened(path, LIBRARY_FILE) as source:
        package = read_package(source, part(progress, 0.0, 0.5))
        if dry_run:
            with library.database.reading() as connection:
                return _plan(connection, package, dry_run=True)[0]
        with library.database.writing() as connection:
            report, fresh, altered = _plan(connection, package, dry_run=False)
            held = library.photographs.held(connection)
            try:
                _carry_out(library, connection, package, fresh, altered, part(progress, 0.5, 1.0))
            except BaseException:
                for sha256 in library.photographs.held(connection) - held:
                    library.photographs.drop(connection, sha256)
                raise
    return report


def read_package(source: Source, progress: Progress = quiet) -> Package:
    """Read and check everything but the photographs' pixels; ExchangeError."""
    warnings = _verify_checksums(source, progress)
    head = _head(source)
    records: dict[str, list[Record]] = {}
    for name, kind in KINDS.items():
        records[name] = [] if name == "studio" else _read_kind(source, kind)
        if sum(map(len, records.values())) > tabulated.MOST_LINES:
            raise ExchangeError(f"There are more than {tabulated.MOST_LINES} records. Export it in two selections.")
    records["shade"] = _with_spectra(source, records["shade"])
    records["learned_palette"] = [_with_payload(source, each) for each in records["learned_palette"]]
    beside = {file_beside(each) for each in (*records["photograph"], *records["learned_palette"])}  # type: ignore[arg-type]
    ignored = sorted(set(source.names) - FILES - beside)
    warnings += [f"{name[:80]} is not part of the format and was left aside." for name in ignored[:20]]
    return Package(source, _studio(head), records, warnings)


def _head(source: Source) -> dict[str, Any]:
    head = tabulated.toml_content(_text(source, LIBRARY_FILE), LIBRARY_FILE)
    version = head.get("format_version")
    if head.get("format") != FORMAT or not isinstance(version, int) or version < 1:
        raise ExchangeError(f"{LIBRARY_FILE} does not say format = {FORMAT!r}: this is something else.")
    if version > FORMAT_VERSION:
        raise ExchangeError(
            f"This was exported by a newer version of the tool (format {version}; this one reads up to "
            f"{FORMAT_VERSION}). Update the tool and try again."
        )
    return head


def _studio(head: Mapping[str, Any]) -> Studio | None:
    given = head.get("studio")
    if given is None:
        return None
    if not isinstance(given, dict):
        raise ExchangeError(f"[studio] in {LIBRARY_FILE} must be a table.")
    with tabulated.at(LIBRARY_FILE):
        return record_from(Studio, given, uid="studio")


def _verify_checksums(source: Source, progress: Progress) -> list[str]:
    """Every listed file is there and fits; a warning for those that are not listed."""
    if CHECKSUMS_FILE not in source.names:
        return [f"There is no {CHECKSUMS_FILE}, so damage on the way could not be noticed."]
    listed: set[str] = set()
    lines = tabulated.csv_lines(_text(source, CHECKSUMS_FILE), CHECKSUMS_FILE)[1:]
    for number, line in enumerate(lines):
        progress(number / len(lines))
        if len(line) != 2 or line[0] in listed or not _SHA256.fullmatch(line[1]):
            raise ExchangeError(f"{CHECKSUMS_FILE}: {line!r:.80} is not one file and its sha256.")
        name, expected = line
        listed.add(name)
        if name not in source.names:
            raise ExchangeError(f"{name[:80]} is listed in {CHECKSUMS_FILE} but is missing. Export or copy it again.")
        if sha256_of(source.read(name, MOST_BYTES)) != expected:
            raise ExchangeError(
                f"{name[:80]} does not fit its checksum: it was damaged, or edited. If you edited it on purpose, "
                f"remove its line from {CHECKSUMS_FILE} and import again."
            )
    loose = sorted(set(source.names) - listed - {CHECKSUMS_FILE})
    return [f"{name[:80]} has no checksum, so damage on the way could not be noticed." for name in loose[:20]]


def _read_kind(source: Source, kind: type[Record]) -> list[Record]:
    file = file_of(kind)
    if file not in source.names:
        return []
    text = _text(source, file)
    found = (tabulated.from_csv if kind.KIND in IN_CSV else tabulated.from_toml)(kind, text, file)
    seen: set[str] = set()
    for each in found:
        if each.uid in seen:
            raise ExchangeError(f"{file} has two records with the uid {each.uid!r}; give one of them another.")
        seen.add(each.uid)
    return found


def _with_spectra(source: Source, shades: list[Record]) -> list[Record]:
    if SPECTRA_FILE not in source.names:
        return shades
    spectra = tabulated.from_spectra_csv(_text(source, SPECTRA_FILE), SPECTRA_FILE)
    without_shade = set(spectra) - {each.uid for each in shades}
    if without_shade:
        raise ExchangeError(f"{SPECTRA_FILE} has a spectrum of {min(without_shade)[:60]!r}, which is no shade here.")
    found: list[Record] = []
    for each in shades:
        content = plain(each) | dict(zip(tabulated.SPECTRUM, spectra.get(each.uid, ()), strict=False))
        with tabulated.at(SPECTRA_FILE):
            found.append(record_from(ShadeRecord, content, uid=each.uid) if each.uid in spectra else each)
    return found


def _with_payload(source: Source, record: Record) -> Record:
    if not isinstance(record, LearnedPalette) or file_beside(record) not in source.names:
        return record
    return replace(record, payload=source.read(file_beside(record)))


def _text(source: Source, name: str) -> str:
    if name not in source.names:
        raise ExchangeError(f"{name} is missing. Export or copy it again.")
    try:
        return source.read(name).decode("utf-8-sig")  # some editors put a byte-order mark first
    except UnicodeDecodeError:
        raise ExchangeError(f"{name} is not UTF-8 text. Save it as UTF-8 and try again.") from None


# --- comparing with the library, and writing -----------------------------------------------------------


def _plan(
    connection: sa.Connection, package: Package, *, dry_run: bool
) -> tuple[ImportReport, list[Record], list[tuple[Record, Change]]]:
    """What is new, what changes; ExchangeError when something points nowhere."""
    report = ImportReport(dry_run=dry_run, studio=package.studio, warnings=list(package.warnings))
    fresh: list[Record] = []
    altered: list[tuple[Record, Change]] = []
    known: set[tuple[str, str]] = set()
    unchanged, empty = 0, True
    for name, kind in KINDS.items():
        there = {each.uid: each for each in read_records(connection, kind)}
        table = TABLES[name]
        binned = set(connection.execute(sa.select(table.c.uid).where(table.c.binned_at.is_not(None))).scalars())
        known |= {(name, uid) for uid in there if uid not in binned}
        empty = empty and not there
        for each in package.records[name]:
            known.add((name, each.uid))
            before = there.get(each.uid)
            if before is None:
                fresh.append(each)
                report.added.setdefault(name, []).append(each.uid)
            elif before != each or each.uid in binned:
                change = Change(name, each.uid, _differing(before, each), from_bin=each.uid in binned)
                altered.append((replace(each, version=before.version), change))
            else:
                unchanged += 1
    if package.studio and empty:
        fresh.insert(0, package.studio)
        report.added["studio"] = ["studio"]
    _require_pointed_at(package, known)
    settled = replace(report, unchanged=unchanged, changed=[change for _, change in altered])
    return settled, fresh, altered


def _require_pointed_at(package: Package, known: set[tuple[str, str]]) -> None:
    for records in package.records.values():
        for each in records:
            for kind, uid in writing.pointed_at(each):
                if (kind, uid) not in known:
                    raise ExchangeError(
                        f"The {said(type(each))} {each.uid!r} needs the {said(kind)} {uid[:60]!r}, which is neither "
                        "in the import nor in the library."
                    )


def _differing(before: Record, after: Record) -> dict[str, tuple[Any, Any]]:
    old, new = plain(before), plain(after)
    return {name: (old[name], new[name]) for name in new if old[name] != new[name]}


def _carry_out(
    library: Library,
    connection: sa.Connection,
    package: Package,
    fresh: list[Record],
    altered: list[tuple[Record, Change]],
    progress: Progress,
) -> None:
    stamp = now()
    held = library.photographs.held(connection)
    pictures = [each for each in package.records["photograph"] if isinstance(each, Photograph) and each.uid not in held]
    for number, picture in enumerate(pictures):
        progress(0.8 * number / len(pictures))
        library.photographs.put(connection, picture.uid, _picture(package.source, picture))
    writing.insert_all(connection, fresh, stamp)
    progress(0.9)
    for record, change in altered:
        if change.from_bin:
            bins.stamp(connection, record.KIND, record.uid, None)
        writing.keep(connection, record, stamp)
    progress(1.0)


def _picture(source: Source, record: Photograph) -> bytes:
    name = file_beside(record)
    if name not in source.names:
        raise ExchangeError(f"The photograph {name} is missing. Export or copy it again.")
    content = source.read(name, MOST_BYTES)
    if sha256_of(content) != record.uid:
        raise ExchangeError(f"{name} is not the photograph its name says (its sha256 differs).")
    if describe(content)[0] != record.media_type:
        raise ExchangeError(f"{name} is not of the kind {record.media_type!r} that it is said to be.")
    return content
