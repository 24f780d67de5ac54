"""Answers in a notebook: tables, and nothing of a document's text becomes markup."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest

import airbough
from airbough import notebook
from airbough.notebook import table


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.opened: list[str] = []
        self.closed: list[str] = []
        self.text = ""

    def handle_starttag(self, tag, attrs):
        self.opened.append(tag)

    def handle_endtag(self, tag):
        self.closed.append(tag)

    def handle_data(self, data):
        self.text += data


def read(html: str) -> Tags:
    tags = Tags()
    tags.feed(html)
    return tags


@pytest.fixture
def answer() -> airbough.VelocityCheckAnswer:
    finding = airbough.Finding(code="x", severity="note", message="<script>alert(1)</script>", run='"><img src=x>')
    return airbough.VelocityCheckAnswer(
        units={"velocity": "ft/min", "diameter": "<b>in"},
        preset="us",
        velocity=3999.123456,
        transport_velocity=3500.0,
        upper_velocity=5000.0,
        holds=True,
        needlessly_fast=False,
        largest_diameter=6.0,
        least_flow=300.0,
        findings=(finding,),
        cautions=("<i>careful</i>",),
    )


def test_numbers_and_units_are_shown(answer):
    tags = read(table(answer)._repr_html_())
    assert "velocity [ft/min]" in tags.text
    assert "3999.1" in tags.text
    assert "yes" in tags.text


def test_texts_stay_texts(answer):
    tags = read(table(answer)._repr_html_())
    assert set(tags.opened) == {"table", "tr", "th", "td", "details", "summary"}
    assert sorted(tags.opened) == sorted(tags.closed)
    for text in ("<script>alert(1)</script>", '"><img src=x>', "<b>in", "<i>careful</i>"):
        assert text in tags.text


def test_a_picture_is_shown_as_an_image():
    svg = '<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
    picture = notebook.picture(svg)
    assert picture._repr_svg_() == svg
    assert read(picture._repr_html_()).opened == ["img"]


def test_an_answer_without_a_picture_has_none_to_show(answer):
    with pytest.raises(TypeError, match="VelocityCheckAnswer has no picture"):
        notebook.picture(answer)
