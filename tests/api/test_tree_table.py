"""A whole tree posted as rows of a sheet, and its answer as rows."""

from __future__ import annotations

import csv
import io
import json

import pytest

import airbough
from airbough.reading import answer_rows, tree_table

TABLE = """units,us
name,invented shop
dust,shavings
fan_flow (cfm),0,600,1200,2000
fan_pressure (inH2O),11.5,11,8.5,2
open,planer

id,into,diameter (in),length (ft),duct,fittings,join,angle,machine,flow (cfm),entry,gate
main,,7,14,spiral-galvanized,elbow 45 x2 radius_ratio=1.5; known-coefficient coefficient=0.1,,,,,,
saw,main,4,6,spiral-galvanized,,,45,table-saw,400,plain-opening,open
planer,main,6,8,spiral-galvanized,,straight,,planer,785,flanged-opening,1
"""
DOCUMENT = {
    "units": "us",
    "name": "invented shop",
    "dust": "shavings",
    "collector": {
        "fan": {
            "curve": [
                {"flow": 0, "pressure": 11.5},
                {"flow": 600, "pressure": 11},
                {"flow": 1200, "pressure": 8.5},
                {"flow": 2000, "pressure": 2},
            ],
            "rated_as": "fan-static",
        }
    },
    "state": {"open": ["planer"]},
    "runs": [
        {"id": "main", "into": None, "diameter": 7, "length": 14, "duct": "spiral-galvanized", "fittings": [
            {"type": "elbow", "angle": 45, "count": 2, "radius_ratio": 1.5},
            {"type": "known-coefficient", "coefficient": 0.1}]},
        {"id": "saw", "into": "main", "diameter": 4, "length": 6, "duct": "spiral-galvanized",
         "join": {"type": "branch", "angle": 45}, "gate": {"opening": 1},
         "hood": {"machine": "table-saw", "flow": 400, "entry": {"type": "plain-opening"}}},
        {"id": "planer", "into": "main", "diameter": 6, "length": 8, "duct": "spiral-galvanized",
         "join": {"type": "straight"}, "gate": {"opening": 1},
         "hood": {"machine": "planer", "flow": 785, "entry": {"type": "flanged-opening"}}},
    ],
}  # fmt: skip
PATH = "/v1/trees/operating-point"
SENT = {"content-type": "text/csv; charset=utf-8"}
LOCAL = airbough.local()


def in_german(text: str) -> str:
    """Return the table as a German sheet writes it: semicolons between cells, commas in numbers."""
    body = text.replace("; known", "| known").replace(",", ";").replace("=1.5", "=1,5").replace("=0.1", "=0,1")
    return body.replace("11.5;11;8.5;2", "11,5;11;8,5;2").replace("units;us", "units;us\ndecimal;comma")


def rows(text: str, separator: str = ",") -> list[dict[str, str]]:
    """Return the rows of a table."""
    return list(csv.DictReader(io.StringIO(text), delimiter=separator))


def test_a_table_says_what_the_document_says() -> None:
    told = airbough.documents.read(
        tree_table.document(TABLE, airbough.OperatingPointRequest), airbough.OperatingPointRequest
    )
    assert LOCAL.operating_point(told) == LOCAL.operating_point(DOCUMENT)


def test_a_table_posted_is_answered_as_a_table(client) -> None:
    answer = client.post(PATH, content=TABLE, headers=SENT)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    alone = LOCAL.operating_point(DOCUMENT)
    for row, run in zip(rows(answer.text), alone.runs, strict=True):
        assert row["id"] == run.id
        assert float(row["flow [ft^3/min]"]) == pytest.approx(run.flow, rel=1e-14)
        assert row["idle"] == str(run.idle).lower()


def test_json_is_had_for_a_table_by_accept(client) -> None:
    answer = client.post(PATH, content=TABLE, headers={**SENT, "accept": "application/json"})
    assert answer.json()["system"]["flow"] == LOCAL.operating_point(DOCUMENT).system.flow


@pytest.mark.parametrize("of", ["hoods", "findings", "system"])
def test_other_lists_are_asked_for_by_name(client, of) -> None:
    answer = client.post(PATH, params={"of": of}, content=TABLE, headers=SENT)
    told = answer_rows.rows(LOCAL.operating_point(DOCUMENT), of, units=True)
    assert len(rows(answer.text)) == len(told)


def test_settings_may_stand_in_the_query(client) -> None:
    bare = TABLE.replace("dust,shavings\n", "").replace("open,planer\n", "").replace("units,us\n", "")
    bare = "\n".join(line for line in bare.splitlines() if not line.startswith("fan_"))
    words = {"units": "us", "dust": "shavings", "open": "planer", "fan_flow (cfm)": "0;600;1200;2000"}
    words["fan_pressure"] = "11.5;11;8.5;2"
    answer = client.post(PATH, params=words, content=bare, headers=SENT)
    assert answer.text == client.post(PATH, content=TABLE, headers=SENT).text


def test_a_german_sheet_is_read_and_answered_with_decimal_commas(client) -> None:
    answer = client.post(PATH, content=in_german(TABLE), headers=SENT)
    assert answer.status_code == 200, answer.text
    english = rows(client.post(PATH, content=TABLE, headers=SENT).text)
    for german, row in zip(rows(answer.text, ";"), english, strict=True):
        assert {name: cell.replace(",", ".") for name, cell in german.items()} == row
    assert "," in rows(answer.text, ";")[0]["flow [ft^3/min]"]
    tabs = client.post(PATH, params={"separator": "tab", "decimal": "comma"}, content=in_german(TABLE), headers=SENT)
    assert rows(tabs.text, "\t") == rows(answer.text, ";")


def test_balance_and_gate_states_take_tables_too(client) -> None:
    balance = client.post(
        "/v1/trees/balance", params={"by": "gates"}, content=TABLE.replace("open,planer\n", ""), headers=SENT
    )
    assert len(rows(balance.text)) == 3
    states = client.post(
        "/v1/trees/gate-states",
        params={"up_to": "1", "of": "states"},
        content=TABLE.replace("open,planer\n", ""),
        headers=SENT,
    )
    assert {row["name"] for row in rows(states.text)} >= {"saw", "planer"}


def test_what_is_wrong_is_told_all_at_once(client) -> None:
    bad = (
        TABLE.replace("duct,fittings", "dukt,fittings")
        .replace("units,us", "untis,us")
        .replace("fan_pressure", "fan_presure")
    )
    faults = client.post(PATH, content=bad, headers=SENT).json()["errors"]
    assert [fault["read"] for fault in faults] == ["untis", "fan_presure (inH2O)", "dukt"]
    assert "did you mean `units`" in faults[0]["detail"]
    short = client.post(PATH, content=TABLE.replace("0,600,1200,2000", "0,600"), headers=SENT).json()
    assert short["errors"][0]["code"] == "rows-do-not-fit"
    run = client.post(PATH, content=TABLE.replace("spiral-galvanized,elbow", "spiral,elbow"), headers=SENT).json()
    assert (run["errors"][0]["path"], run["errors"][0]["id"]) == ("runs[0].duct", "main")
    how = client.post(PATH, params={"of": "things", "decimal": "dot"}, content=TABLE, headers=SENT).json()
    assert {fault["path"] for fault in how["errors"]} == {"of", "decimal"}
    none = client.post(PATH, params={"of": "states"}, content=TABLE, headers=SENT)
    assert none.status_code == 422


def test_a_question_in_json_is_answered_as_a_table_where_accept_says_so(client) -> None:
    sent = {"content-type": "application/json", "accept": "text/csv"}
    told = client.post(PATH, params={"of": "hoods"}, content=json.dumps(DOCUMENT), headers=sent)
    assert told.text == client.post(PATH, params={"of": "hoods"}, content=TABLE, headers=SENT).text
    usual = client.post(PATH, content=json.dumps(DOCUMENT), headers={"content-type": "application/json"})
    assert usual.headers["content-type"] == "application/json"
    setting = client.post(PATH, params={"dust": "chips"}, content=json.dumps(DOCUMENT), headers=sent)
    assert setting.status_code == 400
    assert setting.json()["errors"][0]["path"] == "dust"


def test_no_number_is_told_with_the_dust_of_its_last_figures() -> None:
    assert answer_rows.short(29.999999999999993) == "30"
    assert answer_rows.short(0.1 + 0.2) == "0.3"
    assert answer_rows.short(1526.6561649171972) == "1526.6561649172"
    for number in (1.0e-9, 123456789.125, 0.0, -7.5, 3.0e20):
        assert float(answer_rows.short(number)) == pytest.approx(number, rel=1e-14)


def test_the_files_of_such_tables_are_loaded_and_checked(tmp_path) -> None:
    path = tmp_path / "shop.csv"
    path.write_text(TABLE)
    told = LOCAL.operating_point(airbough.load(path, airbough.OperatingPointRequest))
    assert told == LOCAL.operating_point(DOCUMENT)
