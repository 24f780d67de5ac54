"""The service takes an outline as a table, and gives the template as one."""


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


def test_only_an_outline_may_be_a_table(client):
    answer = client.post("/v1/trees/balance", content=b"id,line", headers={"content-type": "text/csv"})
    assert answer.status_code == 415
