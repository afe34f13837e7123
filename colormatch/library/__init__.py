"""The swatch library: a studio's materials, tiles, shades, recipes, batches and photographs in a database."""

from .backup import BackupReport, backup
from .demo import demo_folder, open_demo
from .drafts import draft, drop_draft, save_draft, undo_draft
from .errors import (
    BackupError,
    ConflictError,
    DiskFullError,
    ExchangeError,
    InUseError,
    NewerLibraryError,
    NotInLibrary,
    SmallerBackupError,
)
from .exchange import export_library
from .finding import Near, find, find_near
from .history import Version
from .importing import Change, ImportReport, import_library
from .materials import Cement, CementLot, Mould, PigmentLot, PigmentRecord, Studio
from .mending import kind_called, mend
from .record import Record, new_uid
from .records import (
    KINDS,
    BatchRecord,
    CameraProfileRecord,
    DefectRecord,
    DesignRecord,
    Draft,
    DryingWeight,
    LearnedPalette,
    Photograph,
    Piece,
    RecipeRecord,
    ShadeRecord,
    Swatch,
    TileRecord,
    Weighing,
)
from .restoring import records_in, restore, restore_into
from .stock import StockWarning, bags_and_jars, drawn, newest_price, piece_cost, stock_warnings
from .store import Library, data_folder, open_library

__all__ = [
    "KINDS",
    "BackupError", "ConflictError", "DiskFullError", "ExchangeError", "InUseError", "NewerLibraryError",
    "NotInLibrary", "SmallerBackupError",
    "BatchRecord", "CameraProfileRecord", "Cement", "CementLot", "DefectRecord", "DesignRecord",
    "Draft", "DryingWeight",
    "LearnedPalette", "Mould", "Photograph", "Piece", "PigmentLot", "PigmentRecord", "RecipeRecord",
    "Record", "ShadeRecord",
    "Studio", "Swatch", "TileRecord", "Weighing",
    "Library", "data_folder", "new_uid", "open_library",
    "kind_called", "mend",
    "draft", "drop_draft", "save_draft", "undo_draft",
    "Near", "Version", "find", "find_near",
    "Change", "ImportReport", "demo_folder", "export_library", "import_library", "open_demo",
    "BackupReport", "backup", "records_in", "restore", "restore_into",
    "StockWarning", "bags_and_jars", "drawn", "newest_price", "piece_cost", "stock_warnings",
]  # fmt: skip
