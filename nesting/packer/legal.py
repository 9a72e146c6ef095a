"""Which layouts the tool can cut: every cut checked, waste made explicit.

Layouts that the bound is found with, or that are put together piece by piece, mostly keep the
tool's limits, but need not. `legal` lays a tree out at true sizes, with the trims that are still on
a part counted into the lengths of its cuts, and gives back an explicit tree or nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from .layouts import Layout, Place, Split, needed, strips

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from ..problem.instance import Instance
    from .layouts import Tree

__all__ = ["legal", "of_fewest_cuts"]


class _Illegal(Exception):
    """A cut that the tool cannot make."""


@dataclass(frozen=True, slots=True)
class _Part:
    """A part's true usable size, and what trims still add to it."""

    width: int
    height: int
    trim_x: int = 0
    trim_y: int = 0

    def along(self, axis: int) -> int:
        return self.height if axis else self.width

    def cut_length(self, axis: int) -> int:
        """Return how long a cut across `axis` is, untrimmed edges counted."""
        return self.width + self.trim_x if axis else self.height + self.trim_y

    def resized(self, axis: int, size: int) -> _Part:
        return replace(self, height=size) if axis else replace(self, width=size)


def legal(instance: Instance, layout: Layout) -> Layout | None:
    """Return the layout with its waste explicit, or None if the tool cannot cut it so.

    The tree is tried as it is, and then with each run of parallel cuts closed up, waste last;
    where a cut would be too long, what its part has beyond its content is cut off first.
    """
    return next(_laid_out(instance, layout), None)


def of_fewest_cuts(instance: Instance, layout: Layout) -> Layout | None:
    """Return a layout as `legal` does, as it is or closed up: of the two that of fewer cuts."""
    return min(_laid_out(instance, layout), key=lambda one: _cuts(one.root), default=None)


def _laid_out(instance: Instance, layout: Layout) -> Iterator[Layout]:
    source = instance.sources[layout.source]
    part = _Part(source.width, source.height, source.trim_x, source.trim_y)
    check = _Check(instance)
    for lay in (check.as_given, check.closed_up):
        try:
            yield replace(layout, root=lay(layout.root, part))
        except _Illegal:
            continue


@dataclass(frozen=True, slots=True)
class _Check:
    instance: Instance

    def as_given(self, tree: Tree, part: _Part) -> Tree:
        """Lay out a tree whose splits are where they are meant to be."""
        part = self._trimmed(part)
        if isinstance(tree, Place):
            return self._place(tree, part)
        if isinstance(tree, Split):
            if self._is_too_long(tree, part):
                return self._shortened(tree, part, self.as_given)
            kerf = self.instance.kerf
            is_waste = not _holds_pieces(tree.second)
            if tree.at - kerf >= part.along(tree.axis):
                if not is_waste:
                    raise _Illegal
                return self.as_given(tree.first, part)
            return self._cut(
                tree.axis,
                tree.at,
                part,
                lambda first: self.as_given(tree.first, first),
                None if is_waste else lambda second: self.as_given(tree.second, second),
            )
        return None

    def closed_up(self, tree: Tree, part: _Part) -> Tree:
        """Lay out a tree with no more room for each strip than it needs."""
        part = self._trimmed(part)
        if isinstance(tree, Place):
            return self._place(tree, part)
        if isinstance(tree, Split):
            if self._is_too_long(tree, part):
                return self._shortened(tree, part, self.closed_up)
            found = [strip for strip in strips(tree, tree.axis) if strip is not None]
            sizes = [needed(strip, tree.axis, self.instance) for strip in found]
            order = sorted(range(len(found)), key=lambda number: -sizes[number])
            ordered = [(sizes[number], found[number]) for number in order]
            return self._strips(ordered, tree.axis, part)
        return None

    def _is_too_long(self, tree: Split, part: _Part) -> bool:
        longest = self.instance.longest_cut
        return longest is not None and part.cut_length(tree.axis) > longest

    def _shortened(self, tree: Split, part: _Part, lay: Callable[[Tree, _Part], Tree]) -> Tree:
        """Cut off what the cuts would cross in vain, which makes them shorter."""
        across = 1 - tree.axis
        gross = needed(tree, across, self.instance)
        if gross - self.instance.kerf >= part.along(across):
            raise _Illegal
        return self._cut(across, gross, part, lambda first: lay(tree, first), None)

    def _strips(self, sized: Sequence[tuple[int, Tree]], axis: int, part: _Part) -> Tree:
        if not sized:
            return None
        (gross, tree), rest = sized[0], sized[1:]
        if gross - self.instance.kerf >= part.along(axis):
            if rest:
                raise _Illegal
            return self.closed_up(tree, part)
        return self._cut(
            axis,
            gross,
            part,
            lambda first: self.closed_up(tree, first),
            (lambda second: self._strips(rest, axis, self._trimmed(second))) if rest else None,
        )

    def _place(self, place: Place, part: _Part) -> Tree:
        """Free a piece from its part's corner, either cut first."""
        kerf = self.instance.kerf
        wide = needed(place, 0, self.instance) - kerf
        high = needed(place, 1, self.instance) - kerf
        if wide > part.width or high > part.height:
            raise _Illegal
        for axes in ((0, 1), (1, 0)):
            try:
                return self._freed(place, (wide, high), axes, part)
            except _Illegal:
                continue
        raise _Illegal

    def _freed(
        self, place: Place, size: tuple[int, int], axes: tuple[int, ...], part: _Part
    ) -> Tree:
        part = self._trimmed(part)
        for axis in axes:
            if part.along(axis) > size[axis]:
                return self._cut(
                    axis,
                    size[axis] + self.instance.kerf,
                    part,
                    lambda first: self._freed(place, size, axes, first),
                    None,
                )
        if part.trim_x or part.trim_y:
            raise _Illegal
        return place

    def _cut(
        self,
        axis: int,
        gross: int,
        part: _Part,
        first: Callable[[_Part], Tree],
        second: Callable[[_Part], Tree] | None,
    ) -> Tree:
        """Cut a part in two; `second` is None where the second half is waste."""
        kerf, strip = self.instance.kerf, self.instance.narrowest_strip
        longest = self.instance.longest_cut
        size, rest = gross - kerf, part.along(axis) - gross
        if longest is not None and part.cut_length(axis) > longest:
            raise _Illegal
        if second is None and 0 < rest < strip and kerf and part.along(axis) - kerf >= strip:
            return self._shaved(axis, gross, part, first)
        if size < strip or 0 < rest < strip:
            raise _Illegal
        if rest <= 0 and second is not None:
            raise _Illegal
        after = None if second is None else second(part.resized(axis, rest))
        return Split(axis, gross, first(part.resized(axis, size)), after)

    def _shaved(self, axis: int, gross: int, part: _Part, first: Callable[[_Part], Tree]) -> Tree:
        """Take a rest too narrow for a strip off a kerf at a time, so that nothing is left."""
        return self._cut(
            axis,
            part.along(axis),
            part,
            lambda shaved: self._cut(axis, gross, shaved, first, None),
            None,
        )

    def _trimmed(self, part: _Part) -> _Part:
        """Return the part with every trim off that the tool can take off.

        A trim may be as narrow as it likes; what is left of the part may not.
        """
        longest, strip = self.instance.longest_cut, self.instance.narrowest_strip
        for _ in range(2):
            if longest is None or part.height + part.trim_y <= longest:
                if part.trim_x and part.width < strip:
                    raise _Illegal
                part = replace(part, trim_x=0)
            if longest is None or part.width + part.trim_x <= longest:
                if part.trim_y and part.height < strip:
                    raise _Illegal
                part = replace(part, trim_y=0)
        return part


def _cuts(tree: Tree) -> int:
    return 1 + _cuts(tree.first) + _cuts(tree.second) if isinstance(tree, Split) else 0


def _holds_pieces(tree: Tree) -> bool:
    if isinstance(tree, Split):
        return _holds_pieces(tree.first) or _holds_pieces(tree.second)
    return tree is not None
