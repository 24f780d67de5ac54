"""Labels of a picture to scale: where one stands far from what it names, its leader passes over no other words."""

from __future__ import annotations

import re

from airbough_service.questions.drawing.placed.labels import Labels, Line
from airbough_service.questions.drawing.svg import Box, Sheet

AT = (300.0, 300.0)


def with_blocked(*boxes):
    labels = Labels(Sheet(), Box(0.0, 0.0, 600.0, 600.0, ""))
    for box in boxes:
        labels.block(*box)
    return labels


def leaders(sheet):
    found = (re.match(r'<path d="M(\S+) (\S+)L(\S+) (\S+)" ', part) for part in sheet.parts)
    return [tuple(float(figure) for figure in match.groups()) for match in found if match]


def crossed(leader, box):
    x, y, to_x, to_y = leader
    shares = (number / 500 for number in range(501))
    return any(
        box.left < x + share * (to_x - x) < box.right and box.top < y + share * (to_y - y) < box.bottom
        for share in shares
    )


def test_a_leader_goes_round_words_that_stand_in_its_way():
    # Free are a lane to the right, in which other words stand, and what lies 80 px away on the other sides.
    labels = with_blocked((225, 225, 420, 290), (225, 310, 420, 375), (225, 290, 340, 310))
    assert labels.write((350.0, 300.0), [Line("ab")], 11.0, 200.0)
    (words,) = labels.sheet.boxes
    assert words.left > AT[0]
    assert labels.write(AT, [Line("collector")], 11.0, 200.0)
    (leader,) = leaders(labels.sheet)
    assert not crossed(leader, words)


def test_words_written_later_keep_off_a_leader():
    # Within the ring there is room for a few letters to the right, on no side for the longer words.
    labels = with_blocked((190, 190, 350, 195), (190, 405, 350, 410), (190, 190, 195, 410), (345, 190, 350, 410))
    assert labels.write(AT, [Line("a collector with a rather long name")], 11.0, 200.0)
    (leader,) = leaders(labels.sheet)
    assert leader[2:] != AT
    assert labels.write((322.0, 300.0), [Line("ab")], 11.0, 200.0)
    assert not crossed(leader, labels.sheet.boxes[-1])
