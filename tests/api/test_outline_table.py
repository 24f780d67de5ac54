"""The service takes an outline as a table, and gives the template as one."""

import html
import re


def test_the_template_is_a_table_that_can_be_sent_back(client):
    given = client.get("/v1/outlines/template?units=us&format=csv")
    assert given.headers["content-type"].startswith("text/csv")
    assert given.text.startswith("units,us\r\n")
    answer = client.post("/v1/outlines/tree", content=given.content, headers={"content-type": "text/csv"})
    assert answer.json()["rows"]["saw-hose-2"] == "saw"


def test_a_table_that_is_none_is_refused_with_its_place(client):
    answer = client.post("/v1/outlines/tree", content=b"saw,main", headers={"content-type": "text/csv"})
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["path"] == "table"


def test_no_question_that_has_no_table_takes_one(client):
    answer = client.post("/v1/trees/sizing", content=b"id,line", headers={"content-type": "text/csv"})
    assert answer.status_code == 415


def test_the_measuring_sheet_has_the_templates_headings_and_nothing_runs_off_the_page(client):
    for name, units in (("us", "us"), ("metric", "metric")):
        page = client.get(f"/docs/measuring-sheet-{name}")
        assert page.headers["content-type"].startswith("text/html")
        texts = re.findall(r'<text x="([\d.]+)" y="([\d.]+)" font-size="([\d.]+)"[^>]*>([^<]*)<', page.text)
        headings = client.get(f"/v1/outlines/template?units={units}").json()["headings"]
        written = {html.unescape(text) for *_, text in texts}
        assert {heading["heading"] for heading in headings if heading["name"] not in ("units", "name")} <= written
        for x, y, size, text in texts:
            assert float(x) + 0.5 * float(size) * len(text) <= 190  # a sans-serif letter is half an em wide, about
            assert float(y) <= 255
