"""An outline as a table: settings, headings with units, one row a line or machine, further ports, commas."""

import pytest

import airbough
from airbough.reading.outline_table import document

CLIENT = airbough.local()
TABLE = """\
units,us
dust,sawdust
greatest_flow (cfm),1500
greatest_suction (inH2O),12

id,line,at (ft),length (ft),turns (ft),diameter (in),machine,size (in),off (ft),drop (ft),port (in),hose (ft)
main,,,22,3 left; 12 up 45,7,,,,,,
saw,main,10,,,,table-saw,10,2,6,4,5
saw,,,,,,,,,,2 1/2,8
planer,main,22,,,,planer,13,2,6,5,5
"""


def faults(text):
    with pytest.raises(airbough.InvalidRequest) as caught:
        airbough.read_outline(text)
    return {fault.path: fault for fault in caught.value.problem.errors}


def test_a_table_says_the_document():
    assert document(TABLE) == {
        "units": "us",
        "dust": "sawdust",
        "collector": {"known_by": {"greatest_flow": "1500 cfm", "greatest_suction": "12 inH2O"}},
        "lines": [
            {
                "id": "main",
                "length": "22 ft",
                "turns": [{"at": "3 ft", "to": "left"}, {"at": "12 ft", "to": "up", "angle": "45 deg"}],
                "diameter": "7 in",
            }
        ],
        "machines": [
            {
                "id": "saw",
                "line": "main",
                "at": "10 ft",
                "machine": "table-saw",
                "size": "10 in",
                "off": "2 ft",
                "drop": "6 ft",
                "ports": [{"port": "4 in", "hose": "5 ft"}, {"port": "2.5 in", "hose": "8 ft"}],
            },
            {
                "id": "planer",
                "line": "main",
                "at": "22 ft",
                "machine": "planer",
                "size": "13 in",
                "off": "2 ft",
                "drop": "6 ft",
                "port": "5 in",
                "hose": "5 ft",
            },
        ],
    }


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_cells_may_be_parted_by_commas_semicolons_or_tabs(separator):
    pasted = TABLE.replace("3 left; 12 up 45", "3 left | 12 up 45").replace(",", separator)
    assert document("\ufeff" + pasted) == document(TABLE)


def test_a_german_sheet_says_its_decimal_mark():
    sheet = "units;metric\ndecimal;comma\nid;line;at (m);length (m);drop (m);port (mm);flow (m3/h)\n"
    sheet += "main;;;8,5;;;\nsaw;main;3,048;;1,8;120;1.100\n"
    with pytest.raises(airbough.InvalidRequest, match="thousand"):
        airbough.read_outline(sheet)
    made = airbough.read_outline(sheet.replace("1.100", "1100"))
    assert (made.lines[0].length, made.machines[0].at) == ("8.5 m", "3.048 m")


def test_cells_carry_units_of_their_own():
    made = airbough.read_outline("units,us\nid,line,at,length,drop,port\nmain,,,22,,\nsaw,main,10 ft 6 in,,72 in,4\n")
    assert (made.machines[0].at, made.machines[0].drop, made.machines[0].port) == ("10 ft 6 in", "72 in", 4)


def test_places_stand_in_cells():
    made = airbough.read_outline(
        "units,us\nid,line,path (ft),place (ft),port (in)\nmain,,0 12 4; 0 12 9,,\nsaw,main,,8 9 3,4\n"
    )
    assert made.lines[0].path == (("0 ft", "12 ft", "4 ft"), ("0 ft", "12 ft", "9 ft"))
    assert made.machines[0].place == ("8 ft", "9 ft", "3 ft")


def test_everything_wrong_with_a_table_is_told_at_once():
    told = faults("unit,us\nid,line,dorp (ft),port\nmain,,,4\n,main,,4\nsaw,main,,4\nsaw,main,,3\n")
    assert {fault.code for fault in told.values()} == {"unknown-field", "missing-field", "duplicate-id"}
    assert "did you mean `units`?" in told["table[1]"].detail
    assert "did you mean `drop`?" in told["table[2]"].detail
    assert set(told) == {"table[1]", "table[2]", "table[3].line", "table[4].id", "table[6].id"}
    assert "such as" in told["table[3].line"].detail


def test_one_mistake_in_a_heading_is_told_once_and_not_cell_by_cell():
    told = faults("units,us\nid,line,drop height (ft),port\nmain,,,\nsaw,main,4,4\nplaner,main,5,5\n")
    assert {path: fault.detail for path, fault in told.items()} == {"table[2]": "no such heading; did you mean `drop`?"}


def test_an_ambiguous_mark_is_told_with_where_to_settle_it():
    told = faults("units;metric\ngreatest_flow (m3/h);2,700\nid;line;at (m);port\nmain;;;\n")
    assert "decimal comma or point above the table" in told[next(iter(told))].detail


def test_words_of_the_catalogue_are_read_as_people_write_them():
    sheet = "units,us\ndust,Mixed Wood\nid,line,length,duct,port,drop,at\n"
    sheet += "main,,20,Spiral Galvanized,,,\nsaw,main,,,4,5,20\n"
    made = airbough.read_outline(sheet)
    assert (made.dust, made.lines[0].duct) == ("mixed-wood", "spiral-galvanized")


def test_a_table_without_headings_is_refused():
    assert set(faults("saw,main,10\n")) == {"table"}


def test_a_file_of_a_table_is_loaded(tmp_path):
    path = tmp_path / "shop.csv"
    path.write_text(TABLE)
    assert airbough.load(path, airbough.OutlineRequest) == airbough.read_outline(TABLE)


def test_a_file_of_yaml_is_loaded(tmp_path):
    path = tmp_path / "shop.yaml"
    path.write_text(
        "units: us\nlines:\n  - {id: main, length: 22}\n"
        "machines:\n  - {id: saw, line: main, at: 22, off: 2, drop: 6, port: 4, flow: 400}\n"
    )
    assert airbough.load(path, airbough.OutlineRequest).machines[0].off == 2


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_template_is_answered_as_it_is(units):
    template = CLIENT.outline_template(units=units)
    tree = CLIENT.outline(airbough.read_outline(template.csv)).tree
    assert tree == CLIENT.outline(template.outline).tree
    assert CLIENT.operating_point(tree).band is not None
    headings = {heading.heading for heading in template.headings}
    assert {cell for line in template.csv.splitlines()[6:7] for cell in line.split(",")} <= headings


def test_each_machine_of_the_template_alone_has_its_design_flow():
    for units in ("us", "metric"):
        tree = CLIENT.outline(CLIENT.outline_template(units=units).outline).tree
        states = [{"name": machine, "open": [machine]} for machine in ("planer", "saw", "band saw")]
        answer = CLIENT.gate_states(tree, states=states)
        alone = [state for state in answer.states if state.name in {machine["name"] for machine in states}]
        assert len(alone) == 3
        assert not [code for state in alone for code in state.findings if code == "hood-starved"]
