"""What the audit finds: a short code for the kind, and a sentence for the person."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import AuditError

__all__ = ["CODES", "Finding", "refuse_if_any"]

CODES: dict[str, str] = {
    # The replay.
    "cut-number": "cuts are not numbered 1, 2, 3, ... in order",
    "cut-touches-nothing": "a cut meets no part that is on the bench at that moment",
    "cut-not-edge-to-edge": "a cut does not span the part that it divides",
    "cut-through-several": "a cut would divide more than one part",
    "wrong-setting": "a setting is not the distance from the stop to the cut",
    "wrong-stop": "the edge against the stop does not face the cut",
    # The tool's limits.
    "cut-too-long": "a cut is longer than the tool can make",
    "strip-too-narrow": "a cut takes off or leaves a strip that the tool cannot hold",
    "trim-under-kerf": "a trim is thinner than the kerf of its own cut",
    # The parts that remain.
    "piece-not-cut": "a listed piece is not a part that the cuts leave",
    "leftover-not-left": "a listed leftover is not a part that the cuts leave",
    "part-not-listed": "the cuts leave a part that is listed nowhere",
    "label-unknown": "a piece has a label that the board's order does not",
    "label-twice": "the order names a label twice",
    "wrong-size": "a piece is not of the size ordered",
    "turned": "a piece is turned that may not be",
    "too-few-pieces": "fewer pieces are made than ordered",
    "too-many-pieces": "more pieces are made than ordered",
    # Where they lie.
    "no-area": "a rectangle has no area",
    "overlap": "two parts overlap",
    "outside-source": "a part lies outside the source",
    "piece-in-trim": "a piece lies in the trim of a full sheet",
    "wrong-leftover-kind": "a leftover is not of the kind that its size makes it",
    # The totals.
    "areas-differ": "pieces, kerf and leftovers do not add up to the source",
    "wrong-copies": "a layout is cut less than once",
    "not-in-stock": "a source is not in the stock",
    "wrong-on-hand": "fewer than none, or more than there are, stand on the rack",
    "stock-exceeded": "more of a source is used than there is",
    "offcut-used-twice": "one offcut is used more than once",
    "wrong-sheets": "the number of full sheets is not what the layouts take",
    "wrong-aim": "the aim does not fit the prices",
    "wrong-value": "the cost or area is not that of the sheets taken",
    "layout-twice": "two layouts of a board have one name",
    "board-twice": "a board stands in the plan twice",
    "step-not-positive": "the step is not a length",
    # The order of all cuts, and what the pieces' sides come from.
    "order-layout-unknown": "the order of cuts names a layout that there is not",
    "order-wrong": "the order of cuts does not make a layout's cuts, each once, as numbered",
    "order-setting": "the order of cuts has another setting than the cut needs",
    "order-count": "settings, sides left over, quarter turns, lifts or cuts with a way back are not"
    " as many as said",
    "settings-bound-too-high": "the bound on settings is above what the plan itself takes",
    "handling-bound-too-high": "a bound on sides left over, turns or lifts is above the plan's own",
    "way-back-bound-too-low": "the bound on cuts with a way back is below the plan's own",
    "side-made-by": "a piece's side does not come from what it is said to",
    "side-error": "a piece's side may be off by more, or less, than is said",
    # The rungs below the first aim.
    "wrong-worth": "what remains is worth another sum than said",
    "worth-bound-too-low": "the bound on the worth of what remains is below what the room shows",
    "wrong-ease": "the cuts or the layouts are not as many as said",
    "cuts-bound-too-high": "the bound on cuts is above what pieces and sources show",
    # The bound.
    "value-label-unknown": "the certificate values a label that was not ordered",
    "value-negative": "the certificate gives a negative value",
    "value-too-high": "a layout is worth more, by the certificate, than its unlimited source costs",
    "values-impossible": "the certificate's values lead to a bound that no sheets in stock reach",
    "certificate-too-large": "the certificate cannot be rechecked in reasonable time",
    "certificate-without-values": "a bound is claimed by piece values, but none are given",
    "bound-too-high": "the bound is higher than the certificate shows",
    "bound-above-value": "the bound is above what the plan itself reaches",
    "sheets-bound-too-high": "the bound on sheets is higher than the certificate shows",
    "wrong-proof": "proved least is claimed, or denied, against the plan's own bound",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong with a plan.

    Attributes
    ----------
    code
        One of `CODES`.
    sentence
        What is wrong and where, in full.
    """

    code: str
    sentence: str


def refuse_if_any(findings: tuple[Finding, ...]) -> None:
    """Raise if there is a finding.

    Raises
    ------
    AuditError
        With every finding.
    """
    if findings:
        raise AuditError(
            tuple(finding.sentence for finding in findings),
            tuple(finding.code for finding in findings),
        )
