"""A few pages look as they did when somebody last looked at them."""

from __future__ import annotations

import numpy as np
import pytest
from reference_pages import PAGES, Grey, alike, drawn, kept


@pytest.mark.parametrize("name", PAGES)
def test_a_page_looks_as_it_did(name: str) -> None:
    """Square by square it is as grey as the page that was kept; DEVELOPERS.md says how to renew."""
    assert alike(drawn(name), kept(name))


def moved(page: Grey) -> Grey:
    """Return the page a tenth of an inch further down."""
    return np.roll(page, 5, axis=0)


def without_a_part(page: Grey) -> Grey:
    """Return the page with a broad band below its head left white."""
    blank = page.copy()
    blank[len(page) // 10 : len(page) // 2] = 1
    return blank


def without_type(page: Grey) -> Grey:
    """Return the page with nothing on it but what is black throughout: lines, and few of them."""
    return np.where(page < 0.2, page, 1.0)


def blurred(page: Grey) -> Grey:
    """Return the page as another rasterizer might draw it: each dot mixed with the next ones."""
    mixed: Grey = (2 * page + np.roll(page, 1, axis=1) + np.roll(page, 1, axis=0)) / 4
    return mixed


@pytest.mark.parametrize("name", PAGES)
def test_what_is_amiss_is_seen(name: str) -> None:
    """A page that is moved, empty below its head or without its type looks otherwise."""
    page = kept(name)
    for change in (moved, without_a_part, without_type):
        assert not alike(change(page), page), change.__name__
    assert alike(blurred(page), page)
