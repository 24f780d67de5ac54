"""One stock for sizing and parts list: prices in decimals, packages, what is gone, and that both price a tree alike."""

import math
from decimal import Decimal

import msgspec
import pytest

from airbough.wire.parts_list import PartsListRequest
from airbough.wire.sizing import SizingRequest
from airbough_service.combined import registry
from airbough_service.terms import money
from airbough_service.terms.refusal import Refusal
from sizing_garage import HOSE, SPIRAL, tree
from sizing_garage import stock as garage_stock

ENTRY = {"type": "plain-opening"}


def parts(document, **more):
    return registry.answer("parts-list", msgspec.convert(document | more, PartsListRequest))


def sized(document):
    return registry.answer("sizing", msgspec.convert(document, SizingRequest))


def one_run(length=3.0, elbows=2, diameter=150, **stock):
    bend = {"type": "elbow", "angle": 45, "radius_ratio": 1.5, "count": elbows}
    run = {"id": "only", "into": None, "diameter": diameter, "length": length, "duct": SPIRAL,
           "fittings": [bend] if elbows else [], "hood": {"entry": ENTRY}}  # fmt: skip
    return {"units": "metric", "runs": [run], "stock": stock}


def elbow(item="elbow", **more):
    return {"item": item, "type": "elbow", "diameter": 150, "angle": 45, "price": "7.10"} | more


def line(answer, item):
    return next(line for line in answer.lines if line.item == item)


def codes(answer):
    return [item.code for item in answer.findings]


def test_money_is_summed_in_decimals():
    # 0.10 + 0.20 and thirty times 0.1 are no whole cents in binary fractions.
    answer = parts(one_run(elbows=3, ducts=[{"item": "pipe", "diameter": 150, "price_per_length": 0.1}],
                           fittings=[elbow(price=0.2)]))  # fmt: skip
    assert (line(answer, "pipe").price, line(answer, "elbow").price) == (Decimal("0.30"), Decimal("0.60"))
    assert answer.system.price == Decimal("0.90")
    assert msgspec.json.decode(msgspec.json.encode(answer))["system"]["price"] == "0.90"


@pytest.mark.parametrize(
    ("currency", "told"), [(None, "3.34"), ("EUR", "3.34"), ("JPY", "3"), ("KWD", "3.335"), ("invented money", "3.34")]
)  # ISO 4217, Table A.1, from memory: EUR 2, JPY 0, KWD 3
def test_money_is_rounded_to_the_coin_of_its_currency(currency, told):
    ducts = [{"item": "pipe", "diameter": 150, "price_per_length": "1.1117"}]
    answer = parts(one_run(elbows=0, ducts=ducts, currency=currency))
    assert str(line(answer, "pipe").price) == told  # 3 m at 1.1117 are 3.3351
    assert answer.system.currency == currency


def test_halves_of_a_coin_are_rounded_up():
    assert [str(money.coined(Decimal(text), "EUR")) for text in ("0.005", "0.015", "2.675")] == ["0.01", "0.02", "2.68"]


def test_ducts_alone_are_stock_enough_and_what_has_no_list_has_no_price():
    answer = parts(one_run(ducts=[{"diameter": 150, "price_per_length": 10}]))
    pipe = next(line for line in answer.lines if line.at == "stock.ducts[0]")
    assert (pipe.item, pipe.price, pipe.length) == (None, Decimal("30.00"), pytest.approx(3.0))
    bend = next(line for line in answer.lines if line.what.startswith("elbow"))
    assert (bend.quantity, bend.price, bend.at) == (2, None, None)
    assert answer.not_stocked == ()
    assert not answer.system.price_complete
    assert "price-missing" in codes(answer)


def test_packages_are_bought_whole():
    ducts = [{"item": "pipe", "diameter": 150, "piece_length": 1, "pack": 4, "price": 30}]
    answer = parts(one_run(elbows=3, ducts=ducts, fittings=[elbow(pack=2, price="13.99")]), rules={"lap": 0})
    bends, pipes = line(answer, "elbow"), line(answer, "pipe")
    assert (bends.quantity, bends.needed, bends.price) == (2, 3, Decimal("27.98"))
    assert (pipes.quantity, pipes.needed, pipes.price, pipes.length) == (1, 3, Decimal("30.00"), pytest.approx(4.0))


def test_what_runs_out_is_told_and_the_named_substitute_that_suffices_is_proposed():
    fittings = [
        elbow("smooth", quantity=1, substitutes=["few", "plain"]),
        elbow("few", quantity=1, price=9),
        elbow("plain", quantity=2, price=8),
    ]
    answer = parts(one_run(ducts=[{"item": "pipe", "diameter": 150, "price_per_length": 10, "quantity": 2}],
                           fittings=fittings))  # fmt: skip
    bends, pipes = line(answer, "smooth"), line(answer, "pipe")
    assert (bends.in_stock, bends.substitute) == (1, "plain")
    assert (pipes.in_stock, pipes.substitute) == (2, None)
    told = {item.at: item for item in answer.findings if item.code == "out-of-stock"}
    assert set(told) == {"stock.fittings[0]", "stock.ducts[0]"}
    assert "plain" in told["stock.fittings[0]"].suggestion.text
    assert (told["stock.ducts[0]"].value, told["stock.ducts[0]"].limit) == (2.0, 3.0)


def test_a_substitute_that_is_bought_anyway_is_not_promised_twice():
    # two elbows of 45 and one of 60 degrees: the only substitute of the first is what the second takes
    fittings = [elbow(quantity=1, substitutes=["other"]), elbow("other", angle=60, quantity=2)]
    document = one_run(ducts=[{"diameter": 150, "price_per_length": 1}], fittings=fittings)
    document["runs"][0]["fittings"].append({"type": "elbow", "angle": 60, "radius_ratio": 1.5})
    assert line(parts(document), "elbow").substitute is None
    document["stock"]["fittings"][1]["quantity"] = 3
    assert line(parts(document), "elbow").substitute == "other"


def test_of_equal_pieces_what_is_there_is_taken_before_what_is_gone():
    answer = parts(one_run(ducts=[{"diameter": 150, "price_per_length": 1}],
                           fittings=[elbow("gone", price=1, quantity=0), elbow("there", price=5)]))  # fmt: skip
    assert line(answer, "there").price == Decimal("10.00")
    assert "out-of-stock" not in codes(answer)


def test_what_is_priced_by_length_and_sold_in_pieces_costs_whole_pieces():
    ducts = [{"item": "pipe", "diameter": 150, "price_per_length": "4.15", "piece_length": 1.25}]
    answer = parts(one_run(elbows=0, ducts=ducts), rules={"lap": 0})
    assert (line(answer, "pipe").quantity, line(answer, "pipe").price) == (
        3,
        Decimal("15.56"),
    )  # 3 x 1.25 x 4.15 = 15.5625


def numbered(stock):
    """Return a stock with an item number in every entry."""
    return {name: [{"item": f"{name} {number}"} | one for number, one in enumerate(list_)]
            for name, list_ in stock.items()}  # fmt: skip


def test_sizing_and_parts_list_price_the_same_tree_alike():
    """The same stock, sold by length and by the piece: what sizing adds up is what the parts list bills."""
    body = tree(stock=numbered(garage_stock()))
    del body["runs"][3]["hood"]["port_diameter"]  # an adapter to a port is no piece of sizing's
    one = sized(body)
    two = parts(one.document | {"stock": body["stock"]})
    assert one.price_complete
    assert two.not_stocked == ()
    bought = {line.item for line in two.lines if line.price is not None}
    assert bought == {piece.item for run in one.sizes for piece in run.pieces}
    assert two.system.price == one.price == sum(line.price for line in two.lines if line.price is not None)


def test_a_wye_whose_straight_changes_size_is_one_piece_in_both():
    runs = [
        {"id": "main", "into": None, "diameter": 180, "length": 2, "duct": SPIRAL},
        {"id": "on", "into": "main", "diameter": 125, "length": 2, "duct": SPIRAL, "join": {"type": "straight"},
         "hood": {"flow": 900, "entry": ENTRY}},
        {"id": "side", "into": "main", "diameter": 125, "length": 2, "duct": SPIRAL,
         "join": {"type": "branch", "angle": 45}, "hood": {"flow": 900, "entry": ENTRY}},
    ]  # fmt: skip
    wye = {"item": "reducing wye", "type": "wye", "diameter": 125, "branch_diameter": 125, "downstream_diameter": 180,
           "angle": 45, "price": 20}  # fmt: skip
    ducts = [{"item": f"pipe {size}", "diameter": size, "price_per_length": 10} for size in (125, 180)]
    body = {"units": "metric", "dust": "shavings", "runs": runs, "stock": {"ducts": ducts, "fittings": [wye]}}
    body |= {"rules": {"no_narrowing": "must", "upper_velocity": "must"}}
    one = sized(body)
    assert [round(run.diameter) for run in one.sizes] == [180, 125, 125]
    two = parts(one.document | {"stock": body["stock"]})
    assert two.not_stocked == ()
    assert {line.item: line.price for line in two.lines if line.price} == {
        "pipe 180": Decimal("20.00"), "pipe 125": Decimal("40.00"), "reducing wye": Decimal("20.00"),
    }  # fmt: skip
    assert two.system.price == one.price


def test_a_tee_is_a_wye_whose_branch_stands_square():
    runs = one_run(elbows=0)["runs"]
    runs[0]["fittings"] = [{"type": "tee-as-elbow"}]
    for named in ({"type": "tee", "branch_diameter": 150}, {"type": "wye", "branch_diameter": 150, "angle": 90}):
        fittings = [{"item": "tee", "diameter": 150, "price": 12} | named,
                    {"item": "cap", "type": "cap", "diameter": 150, "price": 2}]  # fmt: skip
        stock = {"ducts": [{"diameter": 150, "price_per_length": 1}], "fittings": fittings}
        two = parts({"units": "metric", "runs": runs, "stock": stock})
        assert (line(two, "tee").price, line(two, "cap").price) == (12, 2)
        one = sized({"units": "metric", "dust": "shavings", "stock": stock,
                     "runs": [runs[0] | {"hood": {"flow": 1500, "entry": ENTRY}}]})  # fmt: skip
        assert one.price == 3 + 12 + 2


def test_nothing_is_chosen_because_it_has_no_price():
    dear = {"item": "priced", "diameter": 150, "price_per_length": 30}
    run = one_run(elbows=0)["runs"][0] | {"hood": {"flow": 1500, "entry": ENTRY}}
    off = dict.fromkeys(("transport_velocity", "upper_velocity", "design_flow"), "off")
    body = {"units": "metric", "dust": "shavings", "runs": [run], "rules": off}
    answer = sized(body | {"stock": {"ducts": [dear, {"item": "unpriced", "diameter": 140}]}})
    assert answer.sizes[0].pieces[0].item == "priced"
    answer = sized(body | {"stock": {"ducts": [{"item": "unpriced", "diameter": 140}]}})
    assert (answer.price_complete, answer.lower_bound.price) == (False, None)
    assert "piece-not-priced" in codes(answer)


def test_both_find_the_same_faults_in_a_stock():
    bad = garage_stock() | {"expires": "2027-13-01"}
    bad["ducts"][1] |= {"item": "same", "price_per_length": None, "price": 3}
    bad["gates"][0] |= {"item": "same", "substitutes": ["none"]}
    found = []
    for ask in (lambda: sized(tree(stock=bad)), lambda: parts(tree(stock=bad) | {"collector": None})):
        with pytest.raises(Refusal) as caught:
            ask()
        found.append({(fault.path, fault.code) for fault in caught.value.faults})
    assert found[0] == found[1] == {
        ("stock.ducts[1].price", "parameter-unused"), ("stock.gates[0].item", "duplicate-item"),
        ("stock.gates[0].substitutes[0]", "unknown-id"), ("stock.expires", "outside-range"),
    }  # fmt: skip


@pytest.mark.parametrize(("length", "wrong"), [(0, True), (75, False), (None, False)])
def test_a_taper_without_length_is_no_taper(length, wrong):
    """A change of diameter without length is an abrupt one, which has a name of its own; an elbow has no length."""
    taper = {"item": "taper", "type": "taper", "diameter": 125, "downstream_diameter": 150, "length": length}
    elbow = {"item": "bend", "type": "elbow", "diameter": 150, "angle": 90}
    body = one_run(elbows=0) | {"stock": {"fittings": [elbow, {k: v for k, v in taper.items() if v is not None}]}}
    if not wrong:
        assert parts(body).lines
        return
    with pytest.raises(Refusal) as caught:
        parts(body)
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [
        ("stock.fittings[1].length", "outside-range")
    ]


@pytest.mark.parametrize(("reach", "wrong"), [(1e-300, True), (0.0009, True), (0.001, False), (10, False)])
def test_a_package_that_reaches_nowhere_is_refused(reach, wrong):
    """Found by random bodies: sealant for 1e-300 m a package was a failure of the service."""
    body = one_run(elbows=0) | {"stock": {"supplies": [{"item": "s", "use": "sealant", "length": reach, "price": 1}]}}
    if not wrong:
        assert parts(body).lines
        return
    with pytest.raises(Refusal) as caught:
        parts(body)
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [
        ("stock.supplies[0].length", "outside-range")
    ]


@pytest.mark.parametrize("written", ["-1", "1,50", "1e3", "1.1234567", "", " 1", "1.", "0x1", -0.01, True])
def test_money_that_is_no_amount_is_refused(written):
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(one_run(ducts=[{"diameter": 150, "price_per_length": written}]), PartsListRequest)


def test_a_hose_cut_to_length_is_bought_at_full_stretch_and_clamped():
    run = {
        "id": "hose",
        "into": None,
        "diameter": 100,
        "length": 1.8,
        "duct": HOSE,
        "stretch": 0.9,
        "hood": {"entry": ENTRY},
    }
    stock = {"ducts": [{"item": "hose", "diameter": 100, "duct": HOSE, "price_per_length": "12.35"}]}
    answer = parts({"units": "metric", "runs": [run], "stock": stock, "port_end": "enters", "collector_end": "enters"})
    assert (line(answer, "hose").price, line(answer, "hose").length) == (Decimal("24.70"), pytest.approx(2.0))
    assert [joint.kind for joint in answer.joints] == ["clamped", "clamped"]
    assert math.isclose(answer.system.hose_length, 2.0)
