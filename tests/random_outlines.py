"""Random valid outlines of invented shops."""

from typing import Any

from hypothesis import strategies as st

MACHINES = ("table-saw", "planer", "jointer", "band-saw", "drum-sander", "miter-saw", "lathe", "router-table")
CURVE = [
    {"flow": 0, "pressure": 12},
    {"flow": 1500, "pressure": 9},
    {"flow": 4000, "pressure": 4},
    {"flow": 9000, "pressure": 0},
]
quarters = st.integers(2, 60).map(lambda number: number / 4)


@st.composite
def ports(draw: st.DrawFn) -> dict[str, Any]:
    """Return one port, or several, or none."""
    one = st.fixed_dictionaries(
        {"port": st.sampled_from([2.5, 4, 5, 6])},
        optional={"hose": st.sampled_from([0, 3, 6.5]), "flow": st.sampled_from([150, 400])},
    )
    if draw(st.booleans()):
        return {"ports": draw(st.lists(one, min_size=2, max_size=3))}
    return draw(
        st.fixed_dictionaries(
            {"port": st.sampled_from([3, 4, 5, 6])},
            optional={"hose": st.sampled_from([0, 4, 7.25]), "diameter": st.sampled_from([4, 6])},
        )
    )


@st.composite
def machine(draw: st.DrawFn, number: int, hosts: dict[str, float]) -> dict[str, Any]:
    """Return a machine that joins a line somewhere, or another machine's drop."""
    line = draw(st.sampled_from(sorted(hosts)))
    share = draw(st.sampled_from([0.25, 0.5, 0.5, 0.75, 1.0]))
    row = {
        "id": f"machine {number}",
        "line": line,
        "at": hosts[line] * share,
        "off": draw(st.sampled_from([0, 2, 4.5])),
        "drop": draw(st.sampled_from([0, 3, 6, -2])),
        "machine": draw(st.sampled_from(MACHINES)),
        "gate": draw(st.sampled_from(["drop", "port", "none"])),
        "turns": draw(st.sampled_from(["elbow", "two-45"])),
    }
    hosts[row["id"]] = row["off"] + abs(row["drop"])
    return row | draw(ports())


@st.composite
def outlines(draw: st.DrawFn) -> dict[str, Any]:
    """Return a valid outline: lines that join lines, ends and ways shared, machines of the catalogue."""
    ends: dict[str, float] = {}
    lines = []
    for number in range(draw(st.integers(1, 4))):
        length = draw(quarters)
        line: dict[str, Any] = {"id": f"line {number}", "length": length}
        if ends and draw(st.booleans()):
            line["into"] = draw(st.sampled_from(sorted(ends)))
            line["at"] = ends[line["into"]] * draw(st.sampled_from([0.5, 1.0]))
        if draw(st.booleans()):
            toward = draw(st.sampled_from(["left", "right"] if "into" in line else ["left", "right", "up"]))
            line["turns"] = [{"at": length * 0.3, "angle": draw(st.sampled_from([30, 90])), "to": toward}]
        if draw(st.booleans()):
            line["diameter"] = draw(st.sampled_from([6, 8]))
        ends[line["id"]] = length
        lines.append(line)
    hosts = dict(ends)
    machines = [draw(machine(number, hosts)) for number in range(draw(st.integers(1, 7)))]
    fan = {"curve": CURVE, "rated_as": "fan-static"}
    return {"units": "us", "dust": "sawdust", "lines": lines, "machines": machines, "collector": {"fan": fan}}
