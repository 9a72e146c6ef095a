"""By how much what lies on the bench may be off: as the cuts made so far left it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..audit.sizes import length_off
from ..plan.model import Axis, SourceKind

if TYPE_CHECKING:
    from ..lengths import Length
    from ..plan.model import BoardPlan, Cut, Plan, PlanTrim, Source

__all__ = ["Errors", "Off", "errors_of", "worst_of"]

Off = tuple["Length | None", "Length | None"]  # across and down; None where nobody knows


def errors_of(plan: Plan, board: BoardPlan) -> Errors | None:
    """Return what tells how exact cuts are; None where the plan has no figures for the tool."""
    known = board.tool.repeatability is not None and board.tool.rule_class is not None
    return Errors(plan, board) if known else None


@dataclass(frozen=True, slots=True)
class Errors:
    """How exact the cuts of a board are."""

    plan: Plan
    board: BoardPlan

    def of_source(self, source: Source) -> Off:
        """Return by how much a source's sides may be off."""
        items = [item for item in self.board.stock if item.source == source]
        said = next((item.off for item in items if item.off is not None), None)
        if said is not None:
            return said
        measured = any(item.nominal is not None for item in items)
        if source.kind is SourceKind.SHEET and not measured:
            return None, None
        return self._set(source.width), self._set(source.height)

    def after(self, cut: Cut, setting: int, off: Off, *, by_stop: bool) -> Off:
        """Return by how much a half of a part may be off, at the setting that was used."""
        across, down = off
        error = self._set(setting)
        if cut.axis is Axis.X:
            return error if by_stop else _more(across, error), down
        return across, error if by_stop else _more(down, error)

    def trimmed(self, off: Off, trim: PlanTrim) -> Off:
        """Return by how much a part may be off once its factory edges are taken off."""
        across, down = off
        for size in (trim.left, trim.right):
            across = _more(across, self._set(size)) if size else across
        for size in (trim.top, trim.bottom):
            down = _more(down, self._set(size)) if size else down
        return across, down

    def _set(self, steps: int) -> Length:
        return length_off(self.plan.step * steps, self.board.tool, self.plan.rule)


def _more(off: Length | None, error: Length) -> Length | None:
    return None if off is None else off + error


def worst_of(offs: Iterable[Off | None]) -> Off | None:
    """Return by how much equal parts may be off at worst; None where all were measured."""
    known = [off for off in offs if off is not None]
    if not known:
        return None
    across, down = ([off[axis] for off in known] for axis in (0, 1))
    return _worst(across), _worst(down)


def _worst(errors: list[Length | None]) -> Length | None:
    found = [error for error in errors if error is not None]
    return max(found) if len(found) == len(errors) else None
