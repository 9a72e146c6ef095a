"""plan.json out and in: nothing lost, the same bytes each time, and every fault told."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import (
    GOOD_PLANS,
    INCH,
    agreed,
    hardboard_backs,
    mat,
    two_sheet_sizes,
    values,
    with_board,
)

from kerfwright.errors import InputError
from kerfwright.lengths import Length, Size, Unit
from kerfwright.plan.files import plan_from_json, plan_to_json, read_plan
from kerfwright.plan.model import Aim, Cut, Edge, Plan, Stop

MM = Unit.MILLIMETRE
PLANS = Path(__file__).parent / "data" / "plans"
AGREED = (PLANS / "as-agreed.json").read_text(encoding="utf-8")


def faults(text: str) -> list[str]:
    """Return what is said of a plan.json that cannot be read."""
    with pytest.raises(InputError) as caught:
        plan_from_json(text, "plan.json")
    return [str(fault) for fault in caught.value.faults]


# --- out and in -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", GOOD_PLANS)
def test_plan_comes_back_equal(name: str) -> None:
    """What is read is what was written, and writing it again gives the same text."""
    plan = GOOD_PLANS[name]()
    text = plan_to_json(plan)
    assert plan_from_json(text) == plan
    assert plan_to_json(plan_from_json(text)) == text


@pytest.mark.parametrize("name", GOOD_PLANS)
def test_text_ends_in_one_newline_and_is_plain_json(name: str) -> None:
    """The text is JSON for any reader, in lines that a person can follow."""
    text = plan_to_json(GOOD_PLANS[name]())
    assert text.endswith("}\n")
    assert not text.endswith("\n\n")
    assert json.loads(text)["format"] == "kerfwright-plan"
    assert max(map(len, text.splitlines())) <= 150


def test_each_piece_leftover_and_cut_has_a_line() -> None:
    """One row of a layout is one line of the file."""
    lines = plan_to_json(agreed()).splitlines()
    rows = [line.strip().rstrip(",") for line in lines]
    assert '{"label": "A", "x": 4, "y": 0, "width": 4, "height": 5, "turned": false}' in rows
    assert '{"kind": "offcut", "x": 4, "y": 5, "width": 4, "height": 5}' in rows


def test_everything_that_the_agreed_example_says_is_written() -> None:
    """The plan of the agreed example, written, holds each of its keys with the same value."""

    def holds(written: object, wanted: object) -> bool:
        if isinstance(wanted, dict):
            assert isinstance(written, dict)
            return all(holds(written[key], value) for key, value in wanted.items())
        if isinstance(wanted, list):
            assert isinstance(written, list)
            pairs = zip(written, wanted, strict=True)
            return all(holds(one, other) for one, other in pairs)
        return written == wanted

    assert holds(json.loads(plan_to_json(plan_from_json(AGREED))), json.loads(AGREED))


@pytest.mark.parametrize(
    ("amount", "written"),
    [
        (Fraction(21), "21.00"),
        (Fraction(43, 2), "21.50"),
        (Fraction(1, 1000), "0.001"),
        (Fraction(1, 3), "1/3"),
        (Fraction(0), "0.00"),
    ],
)
def test_money_is_exact(amount: Fraction, written: str) -> None:
    """Money has two decimals or more, and is a fraction where no decimals hold it."""
    plan = with_board(agreed(), value=amount)
    assert json.loads(plan_to_json(plan))["boards"][0]["cost"] == written
    assert plan_from_json(plan_to_json(plan)).boards[0].value == amount


def test_area_stands_where_the_aim_is_area() -> None:
    """One of cost and area is given, by the aim; the other is null."""
    by_cost = json.loads(plan_to_json(agreed()))["boards"][0]
    by_area = json.loads(plan_to_json(hardboard_backs()))["boards"][0]
    assert (by_cost["cost"], by_cost["area"], by_cost["area_lower_bound"]) == ("21.50", None, None)
    assert (by_area["cost"], by_area["cost_lower_bound"]) == (None, None)
    assert (by_area["area"], by_area["area_lower_bound"]) == (589824, 589824)


def test_values_follow_the_order_of_the_pieces() -> None:
    """The certificate's rows do not depend on how the values were found."""
    plan = with_board(agreed(), ordered=(mat("B", 1, 1, 1), mat("A", 3, 4, 5)))
    one = plan_to_json(with_board(plan, certificate=values(A="1", B="2")))
    assert one == plan_to_json(with_board(plan, certificate=values(B="2", A="1")))


@given(
    order=st.text(st.characters(exclude_categories=["Cs"])),
    notes=st.lists(st.text(st.characters(exclude_categories=["Cs"])), max_size=3),
    stopped=st.sampled_from(Stop),
    unit=st.sampled_from(Unit),
    step=st.fractions(min_value=Fraction(1, 10**6), max_value=1000),
    keep=st.none() | st.fractions(min_value=Fraction(1, 10**6), max_value=1000),
    price=st.none() | st.fractions(min_value=0, max_value=10**6),
)
def test_any_plan_comes_back_equal(
    order: str,
    notes: list[str],
    stopped: Stop,
    unit: Unit,
    step: Fraction,
    keep: Fraction | None,
    price: Fraction | None,
) -> None:
    """Any text, any exact length, any exact price: nothing is lost."""
    board = two_sheet_sizes().boards[0]
    stock = (replace(board.stock[0], price=price), board.stock[1])
    kept = None if keep is None else Size(Length(keep), INCH)
    plan = replace(
        two_sheet_sizes(),
        order=order,
        notes=tuple(notes),
        stopped=stopped,
        unit=unit,
        step=Length(step),
        boards=(replace(board, stock=stock, keep=kept),),
    )
    assert plan_from_json(plan_to_json(plan)) == plan


@pytest.mark.parametrize(
    ("keep", "text"),
    [
        ((Length.of(8, Unit.INCH), Length.of(10, Unit.INCH)), "8 in x 10 in"),
        ((Length.of(200, MM), Length.of(250, MM)), "200 mm x 250 mm"),
        # No unit is plain for both: 200 mm are 1000/127 in, and 8 1/8 in are 1651/8 mm.
        ((Length.of(200, MM), Length.of(Fraction(65, 8), Unit.INCH)), "200 mm x 1651/8 mm"),
    ],
)
@pytest.mark.parametrize("unit", Unit)
def test_keep_is_written_in_one_unit(keep: tuple[Length, Length], text: str, unit: Unit) -> None:
    """10 in are 254 mm as well, but nobody writes 8 in x 254 mm, whatever the plan's unit."""
    plan = replace(with_board(two_sheet_sizes(), keep=Size(*keep)), unit=unit)
    assert f'"keep": "{text}"' in plan_to_json(plan)
    assert plan_from_json(plan_to_json(plan)) == plan


def test_what_is_on_hand_is_written_where_it_is_known() -> None:
    """A number comes back; a plan that says nothing has no such key."""
    plan = two_sheet_sizes()
    stock = (replace(plan.boards[0].stock[0], on_hand=0), plan.boards[0].stock[1])
    known = with_board(plan, stock=stock)
    assert plan_to_json(known).count('"on_hand": 0') == 1
    assert "on_hand" not in plan_to_json(plan)
    assert plan_from_json(plan_to_json(known)) == known


@pytest.mark.parametrize(
    ("written", "problem"),
    [("-1", "is negative"), ("1.5", "is not a whole number"), ('"2"', "is not a whole number")],
)
def test_what_is_on_hand_is_a_whole_number(written: str, problem: str) -> None:
    """Nothing but a number of sheets will do."""
    text = AGREED.replace('"available": null', f'"available": null, "on_hand": {written}')
    (said,) = faults(text)
    assert said.startswith("plan.json, board 1, stock row 1: on_hand ")
    assert problem in said


def test_edges_as_they_came_are_far_ones() -> None:
    """Only the right and the bottom edge of an offcut may be so: the first ones are squared."""
    text = AGREED.replace('"available": null', '"available": null, "rough": ["right", "left"]')
    (said,) = faults(text)
    assert said.startswith("plan.json, board 1, stock row 1: rough ")
    assert 'write "right" or "bottom"' in said


@pytest.mark.parametrize(
    ("edges", "problem"), [((1, 1), "stands on a sheet"), ((10**6, 1), "stands on a sheet")]
)
def test_only_a_part_has_edges_still_on(edges: tuple[int, int], problem: str) -> None:
    """A full sheet has the board's trim."""
    left, right = edges
    on = f'{{"left": {left}, "right": {right}, "top": 0, "bottom": 0}}'
    text = AGREED.replace('"available": null', f'"available": null, "untrimmed": {on}')
    (said,) = faults(text)
    assert said.startswith("plan.json, board 1, stock row 1: untrimmed ")
    assert problem in said


# --- the agreed keys alone --------------------------------------------------------------------


def test_agreed_keys_are_enough() -> None:
    """Without any extension, the unit is the step's, the rule its usual one, the run was whole."""
    plan = plan_from_json(AGREED)
    assert (plan.unit, plan.rule) == (Unit.INCH, Length.of(Fraction(1, 16), Unit.INCH))
    assert (plan.notes, plan.stopped) == ((), Stop.DONE)
    board = plan.boards[0]
    assert (board.keep, board.mat_board) == (None, None)
    assert board == replace(agreed().boards[0], keep=None, mat_board=None)


def _without(text: str, *names: str) -> str:
    """Return a plan.json without the keys named, wherever they stand."""

    def strip(value: object) -> object:
        if isinstance(value, dict):
            return {key: strip(item) for key, item in value.items() if key not in names}
        return [strip(item) for item in value] if isinstance(value, list) else value

    return json.dumps(strip(json.loads(text)))


@pytest.mark.parametrize("name", GOOD_PLANS)
def test_stop_is_worked_out_from_the_setting(name: str) -> None:
    """Without ``stop``, the edge is the one from which the setting is right."""
    plan = GOOD_PLANS[name]()
    read = plan_from_json(_without(plan_to_json(plan), "stop"))

    def settled(cut: Cut) -> Cut:
        # Cut 3 of the 40 x 60 halves its part: the setting fits both edges, and the near one is
        # taken.
        return replace(cut, stop=Edge.TOP) if (cut.at, cut.stop) == (30, Edge.BOTTOM) else cut

    for one, other in zip(read.boards[0].layouts, plan.boards[0].layouts, strict=True):
        assert one.cuts == tuple(map(settled, other.cuts))


@pytest.mark.parametrize("proved", [True, False])
def test_area_is_counted_where_it_is_not_given(proved: bool) -> None:
    """Without the area, it is the layouts'; its bound that, if proved, else by the sheets."""
    plan = with_board(hardboard_backs(), proved_least=proved, sheets_lower_bound=1)
    board = plan_from_json(_without(plan_to_json(plan), "area", "area_lower_bound")).boards[0]
    assert board.aim is Aim.AREA
    assert board.value == 2 * 384 * 768
    assert board.value_lower_bound == (2 if proved else 1) * 384 * 768


def test_byte_order_mark_is_passed_over(tmp_path: Path) -> None:
    """A file that some editor saved with a byte-order mark reads as well."""
    path = tmp_path / "plan.json"
    path.write_text(AGREED, encoding="utf-8-sig")
    assert read_plan(path) == plan_from_json(AGREED)


# --- faults -----------------------------------------------------------------------------------

BOARD = "plan.json, board 1"


def _changed(old: str, new: str) -> str:
    assert old in AGREED
    return AGREED.replace(old, new, 1)


FAULTY: dict[str, tuple[str, str]] = {
    "empty": ("", "plan.json, line 1, column 1: is not JSON: Expecting value"),
    "not JSON": (AGREED[:-9], "is not JSON"),
    "a list": ("[]", 'plan.json: is not a plan: its "format" is not "kerfwright-plan"'),
    "a number": ("7", "is not a plan"),
    "another format": (_changed("kerfwright-plan", "other"), "is not a plan"),
    "no format": (_changed('"format": "kerfwright-plan", ', ""), "is not a plan"),
    "a later version": (
        _changed('"version": 1', '"version": 2'),
        "plan.json: is of version 2, and this program reads version 1; plan the order again",
    ),
    "no version": (_changed('"version": 1, ', ""), "has no version"),
    "version true": (_changed('"version": 1', '"version": true'), "is of version True"),
    "an unknown key": (
        _changed('"no_turn"', '"noturn"'),
        f"{BOARD}: key 'noturn' is not known here; did you mean 'no_turn'?",
    ),
    "a key far from any": (
        _changed('"copies": 1,', '"copies": 1, "zzzz": 1,'),
        f"{BOARD}, layout 1: key 'zzzz' is not known here; known: id, copies, source, pieces,"
        " leftovers, cuts",
    ),
    "a key twice": (
        _changed('"copies": 1,', '"copies": 1, "copies": 2,'),
        f"{BOARD}, layout 1: copies is given twice; give it once",
    ),
    "a value twice": (
        _changed('"A": "43/8"', '"A": "43/8", "A": "1"'),
        f"{BOARD}, certificate: values A is given twice",
    ),
    "what was planned in the other aim": (
        _changed(
            '"no_turn": false,',
            '"no_turn": false, "as_planned": { "sheets": 1, "area": 80, "mistakes": 1 },',
        ),
        f"{BOARD}, as_planned: area '80' stands where the aim is cost; leave it out",
    ),
    "a trim of stock that is less than nothing": (
        _changed(
            '"price": "21.50"',
            '"price": null, "trim": { "left": -1, "right": 0, "top": 0, "bottom": 0 }',
        ),
        f"{BOARD}, stock row 1, trim: left '-1' is negative",
    ),
    "a key missing": (
        _changed('"no_turn": false,', ""),
        f"{BOARD}: no_turn is missing; write true or false",
    ),
    "an object missing": (
        _changed('"trim": { "left": 0, "right": 0, "top": 0, "bottom": 0 },', ""),
        f"{BOARD}: trim is missing",
    ),
    "a float": (
        _changed('"at": 4', '"at": 4.0'),
        f"{BOARD}, layout 1, cut 1: at '4.0' is not a whole number; write a whole number from 0"
        " to 67108864",
    ),
    "an exponent": (_changed('"qty": 3', '"qty": 1e400'), "qty '1e400' is not a whole number"),
    "not a number": (_changed('"at": 4', '"at": NaN'), "cut 1: at 'NaN' is not a number"),
    "infinity": (_changed('"at": 4', '"at": -Infinity'), "at '-Infinity' is not a number"),
    "negative": (_changed('"x": 4', '"x": -4'), "piece 3: x '-4' is negative"),
    "zero wide": (_changed('"width": 8', '"width": 0'), "width '0' is too small"),
    "too large": (_changed('"x": 4', '"x": 67108865'), "x '67108865' is too large"),
    "far too large": (
        _changed('"x": 4', '"x": ' + "9" * 5000),
        "x '999999999999…' is far too large",
    ),
    "a number in quotes": (_changed('"x": 4', '"x": "4"'), "x '4' is not a whole number"),
    "true for a number": (_changed('"x": 4', '"x": true'), "x 'true' is not a whole number"),
    "null for a number": (_changed('"x": 4', '"x": null'), "x 'null' is not a whole number"),
    "a number for a label": (_changed('"label": "A"', '"label": 7'), "label '7' is not text"),
    "text for a flag": (
        _changed('"turned": false', '"turned": "no"'),
        "turned 'no' is neither true nor false; write true or false",
    ),
    "an unknown axis": (
        _changed('"axis": "x"', '"axis": "z"'),
        "axis 'z' is not known; write one of: x, y",
    ),
    "an unknown kind": (
        _changed('"kind": "offcut"', '"kind": ["offcut"]'),
        "kind '[…]' is not known; write one of: offcut, slip sheet, scrap, trim",
    ),
    "an unknown certificate": (
        _changed('"piece values"', '"trust me"'),
        f"{BOARD}, certificate: kind 'trust me' is not known; write one of: piece values,"
        " exhaustion",
    ),
    "an object for a list": (_changed('"boards": [', '"boards": {"a": ['), "is not JSON"),
    "text for a list": (_changed('"leftovers": [', '"leftovers": "", "cuts": ['), "cuts is given"),
    "a row that is no object": (
        _changed('"cuts": [', '"cuts": [ 5,'),
        f"{BOARD}, layout 1, cut 1: '5' is not an object",
    ),
    "a price as a number": (
        _changed('"price": "21.50"', '"price": 21'),
        f"{BOARD}, stock row 1: price '21' is not an exact number of zero or more; write an exact"
        ' number in quotes, such as "21.50" or "43/8"',
    ),
    "a negative price": (_changed('"price": "21.50"', '"price": "-1"'), "price '-1' is not an"),
    "a cost by nothing": (_changed('"cost": "21.50"', '"cost": "1/0"'), "cost '1/0' is not an"),
    "no cost": (_changed('"cost": "21.50"', '"cost": null'), "cost 'null' is not an exact"),
    "a value in words": (_changed('"43/8"', '"five"'), "value of A 'five' is not an exact number"),
    "a value as a float": (_changed('"43/8"', "5.375"), "value of A '5.375' is not an exact"),
    "a value in other digits": (_changed('"43/8"', '"٤"'), "is not an exact number"),
    "area beside the aim cost": (
        _changed('"aim": "cost"', '"aim": "cost", "area": 80'),
        f"{BOARD}: area '80' stands where the aim is cost; write null",
    ),
    "cost beside the aim area": (
        _changed('"aim": "cost"', '"aim": "area"'),
        f"{BOARD}: cost '21.50' stands where the aim is area; write null",
    ),
    "an id on a sheet": (
        _changed('"kind": "sheet", "id": null', '"kind": "sheet", "id": "7"'),
        "id '7' stands on a full sheet; write null; only offcuts have an id",
    ),
    "an offcut without an id": (
        _changed('"kind": "sheet", "id": null', '"kind": "offcut", "id": null'),
        "stock row 1: id 'null' is not text",
    ),
    "a step in feet": (
        _changed('"step": "4 in"', '"step": "4 ft"'),
        "plan.json: step '4 ft' is not understood; write an exact length such as \"1/16 in\"",
    ),
    "a step of nothing": (_changed('"step": "4 in"', '"step": "0 in"'), "step '0 in' is not"),
    "a step over nothing": (_changed('"step": "4 in"', '"step": "1/0 in"'), "is not understood"),
    "a step of a mile": (_changed('"step": "4 in"', '"step": "63360 in"'), "is not understood"),
    "an unknown unit": (
        _changed('"step": "4 in"', '"step": "4 in", "unit": "ft"'),
        "plan.json: unit 'ft' is not known; write one of: in, mm, cm",
    ),
    "notes that are no texts": (
        _changed('"step": "4 in"', '"step": "4 in", "notes": [1]'),
        "notes '[…]' is not a list of texts",
    ),
    "half of a character": (
        _changed("Harbour school", "\\ud800"),
        "order '? summer show' is not text; write it as text in quotes",
    ),
    "keep in one length": (
        _changed('"no_turn"', '"keep": "8 in", "no_turn"'),
        f"{BOARD}: keep '8 in' is not understood; write two exact lengths",
    ),
    "a deep nest": ("[" * 200_000, "is nested far too deep"),
}


@pytest.mark.parametrize("name", FAULTY)
def test_faulty_plan_is_refused_by_name(name: str) -> None:
    """A plan.json that cannot be used gives the expected message, and no traceback."""
    text, expected = FAULTY[name]
    assert any(expected in fault for fault in faults(text)), faults(text)


def test_all_faults_are_told_at_once() -> None:
    """Three faults in three places are three faults in one error."""
    text = _changed('"at": 4', '"at": "4"').replace('"qty": 3', '"qty": 0')
    assert len(faults(text.replace('"x": 4', '"y": 4', 1))) == 4  # y twice, and x missing


def test_very_many_faults_are_cut_short() -> None:
    """A file of nothing but faults does not fill the screen."""
    rows = ", ".join(["{}"] * 500)
    told = faults(_changed('"cuts": [', f'"cuts": [ {rows},'))
    assert len(told) == 26
    assert told[-1] == "plan.json: has 2975 more faults"  # 500 rows of 6 missing keys, less 25


@pytest.mark.parametrize("name", ["missing", "folder", "not UTF-8", "null byte"])
def test_file_that_cannot_be_read_is_one_message(name: str, tmp_path: Path) -> None:
    """A missing file, a folder and a picture are each one sentence."""
    path = tmp_path / "plan.json"
    expected = "cannot be read"
    if name == "folder":
        path.mkdir()
        expected = "is a folder"
    elif name == "not UTF-8":
        path.write_bytes(b'{"order": "\xff"}')
        expected = "is not UTF-8 text (byte 12)"
    elif name == "null byte":
        path = Path("plan\0.json")
    with pytest.raises(InputError, match=expected.replace("(", r"\(").replace(")", r"\)")):
        read_plan(path)


@given(st.data())
def test_no_spoiled_file_is_a_traceback(data: st.DataObject) -> None:
    """Whatever stands in the place of any value, reading gives a plan or an `InputError`."""
    held: Any = json.loads(AGREED)  # lists and objects, one in the other
    spoiled = held
    parent: Any
    key: str | int | None
    path = data.draw(st.lists(st.integers(0, 20), min_size=1, max_size=7))
    parent, key = held, None
    for number in path:
        if isinstance(held, dict) and held:
            parent, key = held, list(held)[number % len(held)]
        elif isinstance(held, list) and held:
            parent, key = held, number % len(held)
        else:
            break
        held = parent[key]
    scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text()
    junk: st.SearchStrategy[object] = scalars | st.just([{}])
    parent[key] = data.draw(junk)
    try:
        plan = plan_from_json(json.dumps(spoiled))
    except InputError as error:
        assert error.faults  # noqa: PT017  either outcome will do, but no other
    else:
        assert isinstance(plan, Plan)
