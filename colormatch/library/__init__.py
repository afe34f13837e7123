"""The swatch library: a studio's materials, tiles, shades, recipes, batches and photographs in a database."""

from .errors import (
    BackupError,
    ConflictError,
    DiskFullError,
    ExchangeError,
    InUseError,
    NewerLibraryError,
    NotInLibrary,
)
from .exchange import export_library
from .importing import ImportReport, import_library
from .records import (
    KINDS,
    BatchRecord,
    CameraProfileRecord,
    Cement,
    CementLot,
    DefectRecord,
    DesignRecord,
    DryingWeight,
    LearnedPalette,
    Mould,
    Photograph,
    PigmentLot,
    PigmentRecord,
    RecipeRecord,
    Record,
    ShadeRecord,
    Studio,
    Swatch,
    TileRecord,
    Weighing,
    new_uid,
)
from .store import Library, data_folder, open_library
