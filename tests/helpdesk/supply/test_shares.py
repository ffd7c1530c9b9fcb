"""Shares of a notice: the interval as published, and never a figure without its basis."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, Template

from helpdesk.supply.counting import share_of
from helpdesk.supply.engine import interval_of


@pytest.mark.source("statsmodels2025")
@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        (18, 20, 0.69896635, 0.97213352),
        (4, 20, 0.08065766, 0.41601743),
        (1, 30, 0.00590859, 0.16670391),
        (0, 30, 0.0, 0.11351339),
        (30, 30, 0.8864866, 1.0),
    ],
)
def test_the_interval_is_the_printed_one(hits: int, of: int, low: float, high: float) -> None:
    """Agrees to the seven or eight figures printed."""
    ends = interval_of(hits, of)

    assert (ends.low, ends.high) == pytest.approx((low, high), abs=6e-8)


@pytest.mark.source("newcombe1998")
@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_newcombes(hits: int, of: int, low: float, high: float) -> None:
    """Agrees to the four figures printed, method 3."""
    ends = interval_of(hits, of)

    assert (ends.low, ends.high) == pytest.approx((low, high), abs=5e-5)


def test_the_basis_says_what_the_figure_is_not() -> None:
    share = share_of(3, 11, "batch")

    assert share.basis == (
        "3 of 11 prints with this batch known to this desk, counted once for each person; people "
        "write to us when something failed, so this is no failure rate of the product."
    )


def test_a_share_is_printed_with_interval_and_basis() -> None:
    """Also none of none, which has no figure at all."""
    shown = _render_share(share_of(3, 11, "batch"))
    nothing = _render_share(share_of(0, 0, "batch"))

    assert "3 of 11" in shown
    assert "10% to 57%" in shown  # 0.0975 to 0.5656
    assert "no failure rate of the product" in shown
    assert "%" not in nothing


def _render_share(share: object) -> str:
    words = "{% load supply %}{% share_with_basis share %}"
    text = Template(words).render(Context({"share": share}))
    return " ".join(text.split())


def test_no_template_prints_a_share_alone() -> None:
    """Only the component prints one, and only it knows the counts and the ends."""
    folder = Path(settings.BASE_DIR) / "templates"
    own = folder / "supply" / "_share.html"
    alone = re.compile(r"share\.(?:hits|of|ends|basis)|percent|interval_of|count_share|%\s*of")
    found = [
        str(path.relative_to(folder))
        for path in (folder / "supply").rglob("*.html")
        if path != own and alone.search(path.read_text())
    ]

    assert found == []
    text = own.read_text().split("#}", 1)[1]  # what is printed, after the comment
    assert alone.search(text)
    assert text.index("share.hits") < text.index("{{ low }}") < text.index("share.basis")
    users = [p for p in folder.rglob("*.html") if "share_with_basis" in p.read_text()]
    assert [p.name for p in users] == ["_notice_body.html"]
