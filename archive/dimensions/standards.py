"""By what a size is judged: good enough for a model at a scale, or for what the person asked."""

from __future__ import annotations

from dataclasses import dataclass

from archive.records.things import USUAL_TOLERANCE_MM, Estimate, WantedSize
from archive.scales import Scale

HAS_NONE, NOT_NEEDED, WANTED = "it has none", "not needed", "wanted"  # what a person decides about a size
_USUAL_SHARE = 0.01  # of a size, where there is neither a build nor a scale
_USUAL_DEG, _USUAL_SLOPE_SHARE = 1.0, 0.05


@dataclass(frozen=True, slots=True)
class Standard:
    """By what a size is judged: ± `tolerance_mm` on the model at a scale, or without one 1 % of the size."""

    scale: Scale | None = None
    tolerance_mm: float = USUAL_TOLERANCE_MM
    build: str | None = None

    def allowed(self, quantity: str, value: float) -> float:
        """The half-width of a 95 % interval that is good enough, in the unit of the size."""
        if quantity == "angle":
            return _USUAL_DEG
        if quantity == "count":
            return 0.0
        if quantity == "slope":
            return _USUAL_SLOPE_SHARE * abs(value)
        return self.scale.real_mm(self.tolerance_mm) if self.scale else _USUAL_SHARE * abs(value)


def allowed_for(decided: WantedSize | None, standard: Standard, best: Estimate) -> float:
    """The half-width that is good enough for a size: what the person asked for, else the standard's."""
    if decided is not None and decided.precision_constant is not None:
        return decided.precision_constant + (decided.precision_share or 0.0) * abs(best.value)
    return standard.allowed(best.quantity, best.value)


def half_width(best: Estimate) -> float:
    """Half of the 95 % interval, in the unit of the size."""
    return (best.high_95 - best.low_95) / 2
