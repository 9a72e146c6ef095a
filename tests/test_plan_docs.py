"""docs/plan-json.md says what is so: its example verifies, and no key or finding is left out."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

from plans import two_sheet_sizes

from kerfwright.audit import CODES, audit_plan
from kerfwright.plan import files
from kerfwright.plan.files import plan_from_json, plan_to_json

PAGE = (Path(__file__).parent.parent / "docs" / "plan-json.md").read_text(encoding="utf-8")


def example() -> str:
    """Return the page's plan.json."""
    found = re.search(r"```json\n(.*?)```", PAGE, re.DOTALL)
    assert found is not None
    return found[1]


def test_the_example_is_a_plan_as_it_is_written() -> None:
    """The page shows a whole plan.json, byte for byte, and the audit passes it."""
    assert example() == plan_to_json(two_sheet_sizes())
    facts = audit_plan(plan_from_json(example())).facts[0]
    assert (facts.bound, facts.rechecked) == (Fraction(54), True)


def test_every_key_is_explained() -> None:
    """Every key that the reader knows stands on the page, in code type."""
    names = [name for name in vars(files) if name.endswith("_KEYS")]
    keys = {key for name in names for key in vars(files)[name]}
    assert len(keys) > 50
    assert {key for key in keys if f"`{key}`" not in PAGE} == set()


def test_every_kind_of_finding_is_listed() -> None:
    """The table of findings is the audit's own."""
    rows = dict(re.findall(r"^\| `([\w-]+)` \| (.*) \|$", PAGE.split("## What `kerf")[1], re.M))
    assert rows == CODES
