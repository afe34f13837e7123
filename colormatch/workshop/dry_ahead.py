"""A shade seen fresh or wet, whatever is in it: how it will look dry, by her own pieces seen in both states."""

from __future__ import annotations

from dataclasses import dataclass

from ..difference import expected_delta_e
from ..learning import dry_from_wet
from ..learning.pairs import ENOUGH
from ..library import Library, ShadeRecord
from ..palette import Palette
from ..shade import Shade
from ..studio import MEASURED, when_measured
from .pieces import is_final


@dataclass(frozen=True, slots=True, eq=False)
class DryAhead:
    """The dry shade to come. off: CIEDE2000 to be expected; pairs: pieces of hers it may rest on."""

    shade: Shade
    off: float
    pairs: int

    @property
    def words(self) -> str:
        """How sure it is, and what from."""
        known = f"{self.pairs} pieces of yours were measured in both states."
        more = f"Measure {ENOUGH} pieces in both states, and it is estimated from them."
        return f"Whatever is in it: about {self.off:.0f} off on average. {known if self.pairs >= ENOUGH else more}"


def dry_ahead(library: Library, palette: Palette, shade: Shade, *, base: str, state: str) -> DryAhead:
    """The dry shade of a piece seen in `state`, its recipe unknown; errors as `dry_from_wet`."""
    pairs = seen_in_both(library, state)
    dry = dry_from_wet(palette, shade, base=base, state=state, pairs=pairs)
    return DryAhead(dry, float(expected_delta_e(dry.lab, dry.lab, dry.covariance)), len(pairs))


def seen_in_both(library: Library, state: str) -> list[tuple[Shade, Shade]]:
    """(in that state, dry) of every bowl of a piece, test tile or swatch that was measured in both, each time last."""
    seen: dict[tuple[object, ...], dict[str, Shade]] = {}
    for each in sorted(library.list(ShadeRecord), key=when_measured):
        measured = each.provenance.get("kind") == MEASURED
        if measured and (each.state == state or (each.state == "dry" and is_final(each))):
            owner = (each.piece_uid or each.tile_uid or each.swatch_uid, each.provenance.get("bowl"))
            seen.setdefault(owner, {})[each.state] = each.shade()
    return [(both[state], both["dry"]) for both in seen.values() if len(both) == 2]
