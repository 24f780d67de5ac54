"""A whole report as text, Markdown and one HTML file: nothing from outside, nothing twice, no word that acts."""

from __future__ import annotations

import csv
import io
import json
import re
import unicodedata
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import pytest

import airbough
from airbough import report
from airbough.report import words
from airbough.report.blocks import (
    Bar,
    Bars,
    Bullets,
    Card,
    Chapter,
    Joint,
    Paragraph,
    Picture,
    Piece,
    Report,
    Stick,
    Table,
)

SHOP = json.loads((Path(__file__).parents[2] / "deploy" / "shop.json").read_text("utf-8"))
HOSTILE = "\x1b[31m</td><script>alert(1)</script>](javascript:x)\u202e|`\x07"


@pytest.fixture(scope="module")
def client() -> airbough.Local:
    return airbough.local()


@pytest.fixture(scope="module")
def answers(client):
    asked = {**SHOP, "uncertainty": {"samples": 100, "seed": 1}, "explain": True}
    return {
        "air": client.operating_point(asked),
        "states": client.gate_states({**SHOP, "up_to": 2}),
        "pairs": client.drawing({**SHOP, "of": "pairs"}),
        "parts": client.parts_list(SHOP),
        "strength": client.strength(SHOP),
    }


def everything(word: str) -> Report:
    """Return a report in which every place of words is taken by one word."""
    blocks = [
        Paragraph(word), Bullets([word, f" {word}"], word), Table((word, word), [(word, word)]),
        Bars([Bar(word, 0.5, word)]),
        Stick(word, [Piece(0.6, word), Piece(0.4, "")]), Joint(word, word, 0, word), Card(word, [word]),
        Picture(word, "<svg/>", word),
    ]  # fmt: skip
    return Report(word, [Chapter(word, blocks)], [word], word)


class Tags(HTMLParser):
    """Collects tags and attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs


@pytest.mark.parametrize("made", [report.text, report.markdown, report.html])
def test_no_word_speaks_to_a_terminal(made):
    told = made(everything(HOSTILE))
    assert {one for one in told if unicodedata.category(one) in ("Cc", "Cf")} <= {"\n"}


def test_words_stay_words_in_html():
    tags = Tags()
    tags.feed(report.html(everything(HOSTILE)))
    assert "script" not in tags.tags
    assert not [name for name, _ in tags.attributes if name.startswith("on") or name == "href"]


def test_the_html_file_needs_nothing_else(answers):
    tags = Tags()
    page = report.html(report.whole(*answers.values()))
    tags.feed(page)
    assert not {"script", "link", "iframe", "object"} & set(tags.tags)
    assert all(value.startswith("data:image/svg+xml;base64,") for name, value in tags.attributes if name == "src")
    assert "url(" not in page
    assert "@import" not in page


@pytest.mark.parametrize("made", [report.text, report.markdown, report.html])
def test_each_caution_stands_once(answers, made):
    told = " ".join(made(report.whole(*answers.values())).replace("\\", "").split())
    for caution in answers["air"].cautions:
        assert told.count(caution.split(".")[0]) == 1, caution


def test_a_report_begins_with_what_works(answers):
    lines = report.text(report.whole(answers["air"])).splitlines()
    assert next(line for line in lines if line.startswith("What")).startswith("What works: air enough at 1 of 1")


def test_equal_findings_stand_in_one_line(client):
    answer = client.parts_list(SHOP)
    told = " ".join(report.report(answer).split())
    meaning = "The stock list has no"
    codes = [item for item in answer.findings if item.code == "not-stocked"]
    assert told.count(meaning) == (1 if codes else 0)


def test_pairs_as_csv_are_those_of_the_states(answers):
    rows = list(csv.reader(io.StringIO(report.pairs_csv(answers["states"]))))
    assert rows[0] == ["machine", "with", "can run", "words"]
    states = {frozenset(state.open): state for state in answers["states"].states}
    assert len(rows) == 1 + 21
    for one, other, verdict, _ in rows[1:]:
        assert (verdict == "yes") == states[frozenset((one, other))].holds


def test_gate_labels_name_whom_a_machine_may_run_with(answers):
    told = report.gate_labels(answers["states"])
    assert "JOINTER" in told
    assert "Together with: planer and table saw" in told


def test_the_commissioning_card_has_the_bands_of_the_draws(answers):
    told = report.commissioning(answers["air"])
    band = answers["air"].uncertainty.fan_static_pressure
    expected = answers["air"].system.fan_static_pressure  # one number for one thing, wherever the report tells it
    low, middle, high = (words.figures(value) for value in (band.low, expected, band.high))
    assert re.search(rf"fan static pressure +{low} +{middle} +{high}", told)
    main = next(one for one in answers["air"].uncertainty.runs if one.run == "main").velocity
    assert re.search(rf"main +velocity +{words.figures(main.low)} +5120 ", told)
    (hood,) = answers["air"].uncertainty.hoods
    low, high = (words.figures(value) for value in (hood.static_pressure.low, hood.static_pressure.high))
    assert re.search(rf"planer +hood static pressure +{low} +\S+ +{high}", told)
    with pytest.raises(ValueError, match="uncertainty"):
        report.commissioning(answers["strength"])


def test_the_hand_sheet_can_be_worked_by_hand(answers):
    told = " ".join(report.explanation(answers["air"], "planer").split())
    # 955.3 cfm in a duct of 5 in.: pi/4 (5/12)^2 = 0.13635 ft2, 7006 fpm
    assert (
        "velocity (planer) = flow / (pi/4 * (diameter / 12)^2) with flow 955.3 cfm, diameter 5 in. = 7006 fpm" in told
    )
    with pytest.raises(ValueError, match="explains no such run"):
        report.explanation(answers["air"], "nobody")


@pytest.mark.parametrize(
    ("number", "shown"),
    [(0.0, "0"), (1004.2, "1000"), (0.8021, "0.802"), (-0.00028, "-0.00028"), (123456.0, "123000"), (9.999, "10")],
)
def test_numbers_have_three_figures_and_no_exponent(number, shown):
    assert words.figures(number) == shown


def test_what_no_gauge_shows_is_nothing():
    assert words.bare(-0.000287, "inH2O") == "0"


@pytest.mark.parametrize(
    ("ratio", "said"), [(1.0, "holds"), (0.99, "a hair short"), (0.9, "short by a tenth"), (0.5, "short by half")]
)
def test_a_grade_is_said_in_words(ratio, said):
    assert words.short(ratio) == said


def test_every_answer_that_can_be_asked_has_a_report(client, answers):
    for name, answer in answers.items():
        told = report.report(answer)
        assert told.strip(), name
        assert "None" not in told
    again = msgspec.json.decode(msgspec.json.encode(answers["air"]), type=type(answers["air"]))
    assert report.report(again) == report.report(answers["air"])


def test_an_outline_tells_equal_things_once_by_the_names_of_its_rows():
    client = airbough.local()
    saw = {"machine": "Table Saw", "size": 10, "off": 2, "drop": 5, "port": 4, "hose": 4}
    rows = [{"id": name, "line": "main", "at": at, **saw} for name, at in (("old saw", 8), ("new saw", 16))]
    asked = {"units": "us", "lines": [{"id": "main", "length": 16, "diameter": 6}], "machines": rows}
    answer = client.outline(asked)
    assert {one.run for one in answer.assumed if one.path.startswith("machines[1]")} == {"new saw"}
    told = report.report(answer)
    (line,) = [line for line in told.split("\n- ") if line.startswith("flow of")]
    assert line.split("(")[0].strip() == "flow of old saw, new saw: 483 cfm"
    assert "3 rows made" in told
    assert "machines[" not in told


def quoted(**more):
    """Return a quote of the demonstration's shop from a stock with prices for ducts and hoses alone."""
    ducts = [{"item": f"pipe-{bore}", "diameter": bore, "price_per_length": "2.50"} for bore in (4, 5, 6, 7)]
    return airbough.local().quote({"units": "us", "tree": SHOP, "stock": {"currency": "coins", "ducts": ducts}, **more})


def test_a_quote_tells_price_states_and_parts():
    answer = quoted(drawings=["plan"])
    whole = report.whole(answer)
    assert [chapter.title for chapter in whole.chapters][:3] == ["The quote", "Parts and cuts", "Plan"]
    told = report.text(whole)
    assert f"The parts cost {answer.price} coins, and some parts without a price." in told
    assert answer.stock_digest in told
    planer = next(state for state in answer.states if state.name == "planer")
    share = words.percent(planer.share_of_design)
    assert re.search(rf"planer +{words.figures(planer.flow)} +planer-hose {share}", told)
    assert "data:image/svg+xml;base64," in report.html(whole)


def test_variants_stand_in_rows_with_their_checks():
    figures = ["system.flow", "hoods.share_of_design", "system.most_starved_hood"]
    grid = {"runs[main].diameter": [6, 9], "runs[planer].into": ["main", "nowhere"]}
    answer = airbough.local().variants({"units": "us", "tree": SHOP, "grid": grid, "only": figures})
    told = report.report(answer)
    rows = [line for line in told.splitlines() if line.startswith("runs[main].diameter=")]
    assert len(rows) == 4
    flow = words.figures(answer.columns["system.flow"][0])
    assert re.search(rf"into=main +{flow} +\d+ % \(planer-hose\)", rows[0])
    assert "transport velocity" in rows[2]
    assert rows[1].endswith("no answer")
    assert "WITHOUT AN ANSWER" in told


def test_advised_changes_are_told_with_what_they_cost():
    bores = (4, 5, 6, 7, 8)
    stock = {
        "currency": "coins",
        "ducts": [{"item": f"pipe-{bore}", "diameter": bore, "price_per_length": "2.50"} for bore in bores],
        "gates": [{"item": f"gate-{bore}", "diameter": bore, "price": bore} for bore in bores],
    }
    answer = airbough.local().operating_point(SHOP | {"advice": True, "stock": stock})
    told = " ".join(report.text(report.whole(answer)).split())
    for one in answer.advice:
        assert f"{one.text}: {one.price} coins and what has no price for" in told
        assert "1 gate-6" in told
    without = airbough.local().operating_point(SHOP | {"advice": True})
    assert "coins" not in report.text(report.whole(without))


def test_without_stock_the_parts_report_counts_what_is_needed(client, answers):
    parts = answers["parts"]
    told = report.text(report.whole(parts))
    needed = told[told.index("NEEDED") :].split("\n\n")[0].splitlines()[1:]
    assert not parts.lines
    assert len([line for line in needed if line.startswith("- ")]) == len(parts.requirement)
    assert any(line.startswith("- ") and " of duct, " in line for line in needed)


def test_a_day_is_told_by_the_clock():
    """By hand: 20 s of the fan's delay after each machine goes off; 10 am is 10:00, 1:15 pm is 13:15."""
    times = [{"on": "8:00", "off": "8:30"}, {"on": "1:15:10 pm", "off": "2 pm"}]
    machines = [
        {"machine": "planer", "times": times},
        {"machine": "band-saw", "times": [{"on": "10 am", "off": "10:20"}]},
    ]
    answer = airbough.local().working_day(SHOP | {"machines": machines, "fan_delay": 20})
    told = report.text(report.whole(answer))
    for start, end, name in (
        ("8:00", "8:30:20", "planer"),
        ("10:00", "10:20:20", "band-saw"),
        ("13:15:10", "14:00:20", "planer"),
    ):
        assert re.search(rf"{start} +{end} +{name} +runs", told)


def test_what_is_gone_is_told_once_for_all_places():
    bad = json.loads((Path(__file__).parents[2] / "deploy" / "bad-shop.json").read_text("utf-8"))
    answer = airbough.local().compare({"units": "us", "before": bad, "after": SHOP})
    assert [one.code for one in answer.findings_lost].count("square-tee") > 3
    told = report.text(report.whole(answer))
    assert told.count("joins at 90 deg") == 1
    assert "The same: table-saw" in told
