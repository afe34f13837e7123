"""Errors of the swatch library.

LibraryError (colormatch.errors)
    NotInLibrary        no such record
    ConflictError       someone else changed the record in the meantime
    InUseError          the record is still used by others, so it cannot go to the bin
    NewerLibraryError   written by a newer version of this tool
    DiskFullError       no room left; the old state is intact
    ExchangeError       an exchange folder or zip that is damaged, unsafe or not understood
    BackupError         a backup that could not be verified
        SmallerBackupError  one that holds far less than what it would replace
"""

from __future__ import annotations

from ..errors import LibraryError


class NotInLibrary(LibraryError):
    """No such record in the library."""


class ConflictError(LibraryError):
    """The record was changed by someone else since it was read."""


class InUseError(LibraryError):
    """The record is still used by other records."""


class NewerLibraryError(LibraryError):
    """The library was written by a newer version of this tool."""


class DiskFullError(LibraryError):
    """There was no room left to write; nothing was changed."""


class ExchangeError(LibraryError):
    """The exchange folder or zip is damaged, unsafe or not understood."""


class BackupError(LibraryError):
    """The backup could not be written, read or verified."""


class SmallerBackupError(BackupError):
    """Far less would be there than what it would replace; to be asked about first."""
