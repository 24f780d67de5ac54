"""Drawings as a browser lays them out: real letters stay inside the boxes that were reckoned, and nothing overlaps."""

import html
import json
import re
import shutil
import subprocess

import pytest

from airbough_service.questions.drawing import (
    fan_svg,
    tree_svg,
)
from drawings import fan, tree

CHROMIUM = shutil.which("chromium")
pytestmark = [pytest.mark.long, pytest.mark.skipif(CHROMIUM is None, reason="needs Debian's chromium")]
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--virtual-time-budget=3000",
]  # fmt: skip
SLACK = 2.0  # the browser pads a word's box by about a pixel on each side
MEASURE = """
const own = document.querySelector('svg').getBoundingClientRect();
const boxes = [...document.querySelectorAll('svg text')].map(text => {
  const box = text.getBoundingClientRect();
  const words = [...text.childNodes].filter(node => node.nodeType === 3).map(node => node.data).join('');
  return {words, left: box.left - own.left, right: box.right - own.left,
          top: box.top - own.top, bottom: box.bottom - own.top};
});
const told = document.createElement('script');
told.type = 'application/json'; told.id = 'told';
told.textContent = JSON.stringify({wide: own.width, high: own.height, boxes,
  links: performance.getEntriesByType('resource').length});
document.body.append(told);
"""

PICTURES = [
    ("tree", 8, 1, "metric", False),
    ("tree", 20, 2, "us", False),
    ("tree", 20, 3, "metric", True),
    ("tree", 60, 4, "us", True),
    ("fan", 6, 5, "metric", False),
    ("fan", 11, 6, "us", False),
]


def drawn(of, size, seed, preset, long):
    """Return the document and the boxes reckoned for its words."""
    picture, module = (tree(size, seed, preset, long), tree_svg) if of == "tree" else (fan(seed, preset, size), fan_svg)
    sheet = module.draw(picture)
    return sheet.render(picture.title, module.description(picture), 24.0)[0], sheet.boxes


def measured(svg, folder):
    """Return what the browser says of the document's words."""
    page = folder / "page.html"
    page.write_text(f"<!DOCTYPE html><meta charset=utf-8><body style='margin:0'>{svg}<script>{MEASURE}</script>")
    command = [CHROMIUM, *FLAGS, f"--user-data-dir={folder / 'profile'}", "--dump-dom", page.as_uri()]
    dom = subprocess.run(command, capture_output=True, text=True, timeout=90, check=True).stdout
    return json.loads(html.unescape(re.search(r'id="told">(.*?)</script>', dom, re.DOTALL)[1]))


@pytest.mark.parametrize(("of", "size", "seed", "preset", "long"), PICTURES)
def test_words_stay_in_their_boxes_and_apart(of, size, seed, preset, long, tmp_path):
    svg, reckoned = drawn(of, size, seed, preset, long)
    told = measured(svg, tmp_path)
    assert told["links"] == 0
    assert len(told["boxes"]) == len(reckoned)
    for box, expected in zip(told["boxes"], reckoned, strict=True):
        assert box["words"] == expected.words
        assert box["left"] >= expected.left - SLACK, box
        assert box["right"] <= expected.right + SLACK, box
        assert box["left"] >= 0.0
        assert box["right"] <= told["wide"]
        assert box["bottom"] <= told["high"]
    ordered = sorted(told["boxes"], key=lambda box: box["top"])
    for index, box in enumerate(ordered):
        for other in ordered[index + 1 :]:
            if other["top"] >= box["bottom"] - 3.0:  # a line's box holds room above and below its letters
                break
            assert box["right"] <= other["left"] or other["right"] <= box["left"], (box, other)
