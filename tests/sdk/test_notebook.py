"""Answers in a notebook: tables, and nothing of a document's text becomes markup."""

from __future__ import annotations

from base64 import b64encode
from html.parser import HTMLParser
from xml.etree import ElementTree

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


def test_an_answer_shows_itself(answer):
    assert answer._repr_html_() == table(answer)._repr_html_()
    assert not hasattr(answer, "_repr_svg_")


def test_a_drawing_shows_itself_as_an_image(shop):
    drawn = airbough.local().drawing({**shop, "of": "tree"})
    assert drawn._repr_svg_() == drawn.svg
    root = ElementTree.fromstring(drawn._repr_svg_())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    shown = read(drawn._repr_html_())
    assert shown.opened == ["img"]
    assert b64encode(drawn.svg.encode()).decode() in drawn._repr_html_()


def test_every_answer_of_the_service_shows_itself_as_tables_or_an_image(shop):
    client = airbough.local()
    for shown in (client.balance(shop), client.operating_point(shop), client.air(units="us"), client.ducts(units="us")):
        tags = read(shown._repr_html_())
        assert sorted(tags.opened) == sorted(tags.closed)
        assert set(tags.opened) <= {"table", "tr", "th", "td", "details", "summary"}
    assert "planer" in client.balance(shop)._repr_html_()
