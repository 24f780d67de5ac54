"""Texts and elements of a drawing: what callers write stays data, nothing is fetched, nothing runs."""

import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airbough_service.questions.drawing import (
    fan_svg,
    text,
    tree_svg,
)
from airbough_service.questions.drawing.picture import (
    DrawnRun,
    Remark,
    TreePicture,
)
from airbough_service.questions.drawing.svg import Sheet
from drawings import fan, tree

SVG = "{http://www.w3.org/2000/svg}"
ELEMENTS = {"svg", "title", "desc", "rect", "path", "circle", "text"}
ATTRIBUTES = {
    "viewBox", "version", "role", "aria-labelledby", "width", "height", "font-family", "stroke-linejoin", "id", "d",
    "fill", "stroke", "stroke-width", "stroke-dasharray", "x", "y", "cx", "cy", "r", "rx", "font-size", "font-weight",
    "text-anchor",
}  # fmt: skip
HOSTILE = st.text(alphabet=st.characters(), max_size=64) | st.sampled_from(
    [
        "</text><script>alert(1)</script>",
        "]]>&#x41;<!--",
        "\"' onload='x",
        "&lt;b&gt;",
        "\x00\x0b\ufffe\u202edrow\u2069",
    ]
)


def check(svg):
    """Check a document against what a drawing may consist of; return its root."""
    root = ElementTree.fromstring(svg)
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in ELEMENTS
        assert set(element.attrib) <= ATTRIBUTES
    assert "url(" not in svg
    assert not re.search(r"\bon[a-z]+=\"|href|<!DOCTYPE|<\?", re.sub(r">[^<]*<", "><", svg))
    assert root.get("role") == "img"
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert root.get("aria-labelledby").split() == ids
    assert [element.tag for element in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    return root


@settings(max_examples=150, deadline=None)
@given(name=HOSTILE, title=HOSTILE)
def test_words_of_callers_stay_words(name, title):
    run = DrawnRun(name, None, 0.1, 0.1, 1.0, machine=name)
    picture = TreePicture(title, (name,), "us", (run,), (Remark(1, "c", "note", name, (name,)),))
    root = check(tree_svg.draw(picture).render(title, tree_svg.description(picture), 24.0)[0])
    assert (root[0].text or "") == text.clean(title)


def test_real_drawings_hold_nothing_else():
    for preset in ("us", "metric"):
        one = tree(12, 4, preset, long_names=True)
        check(tree_svg.draw(one).render(one.title, tree_svg.description(one), 24.0)[0])
        two = fan(4, preset)
        check(fan_svg.draw(two).render(two.title, fan_svg.description(two), 24.0)[0])


def test_the_same_picture_gives_the_same_bytes_and_another_gives_other_ids():
    def drawn(title):
        sheet = Sheet()
        sheet.text(10.0, 10.0, "words")
        return sheet.render(title, "d", 24.0)[0]

    assert drawn("a") == drawn("a")
    assert re.findall(r'id="(title-[0-9a-f]+)"', drawn("a")) != re.findall(r'id="(title-[0-9a-f]+)"', drawn("b"))


def test_displayed_width_scales_the_height_alone():
    picture = tree(5, 1)
    svg, width, height = tree_svg.draw(picture).render("t", "d", 24.0, 300)
    _, own_width, own_height = tree_svg.draw(picture).render("t", "d", 24.0)
    assert width == 300.0
    assert height == pytest.approx(300.0 * own_height / own_width)
    root = ElementTree.fromstring(svg)
    assert root.get("width") == "300"
    assert [float(part) for part in root.get("viewBox").split()] == pytest.approx(
        [0, 0, own_width, own_height], abs=0.01
    )


@given(st.text(max_size=80), st.floats(20.0, 400.0))
def test_shortened_words_fit(words, room):
    shown = text.shorten(text.clean(words), 11.0, room)
    assert text.measure(shown, 11.0) <= room + 1e-9
    assert text.clean(words).startswith(shown.removesuffix("…").rstrip())


@given(st.text(alphabet=st.characters(categories=["L", "N", "P", "Zs"]), max_size=200), st.floats(40.0, 400.0))
def test_wrapped_lines_fit(words, room):
    for line in text.wrap(text.clean(words), 11.0, room):
        assert text.measure(line, 11.0) <= room + 1e-9


def test_piled_up_marks_and_marks_of_direction_go():
    assert text.clean("a" + "\u0301" * 40 + "b") == "a\u0301\u0301b"
    assert text.clean("x\u202ey\u2066z\u200b\x07\ud800\n w") == "xyz w"


@pytest.mark.parametrize(
    ("kind", "si", "preset", "shown"),
    [
        ("diameter", 0.1524, "us", "6"),  # exact: 1 in = 25.4 mm (1959)
        ("diameter", 0.1143, "us", "4 1/2"),
        ("diameter", 0.16, "metric", "160"),
        ("flow", 0.3775577952, "us", "800"),  # exact: 800 * 0.3048^3 / 60 m3/s = 0.37755779
        ("flow", 0.25, "metric", "900"),
        ("flow", 0.0001, "metric", "0.36"),  # never rounded to none
        ("flow", 0.0, "metric", "0"),
        ("velocity", 20.32, "us", "4000"),  # exact: 4000 ft/min
        ("velocity", 20.32, "metric", "20.3"),
        ("pressure", 249.08891, "us", "1.00"),  # conventional inch of water
        ("pressure", -1500.4, "metric", "-1500"),
        ("length", 3.048, "us", "10"),
    ],
)
def test_numbers_are_in_the_preset_and_rounded_for_reading(kind, si, preset, shown):
    assert text.number(kind, si, preset) == shown
