from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from airbough_service.core.day.working_day import (
    Machine,
    Override,
    Settings,
    State,
    follow,
    merged,
    most_starts,
    starts_beyond,
    without,
)

DAY = 90


class Second:
    """What one second looked like in the day that is stepped through below."""

    def __init__(self, open_gates, fan, overrides):
        self.open, self.fan, self.overrides = frozenset(open_gates), fan, overrides


def stepped(machines, rules, duration):  # noqa: C901  # one loop, so that it shares nothing with the engine
    """The rules once more, second by second, kept apart from the engine's way on purpose."""
    seconds = []
    fan, started, stopped = False, None, None
    last_any_on, last_on = None, [None] * len(machines)
    kept = None
    ungated = any(not machine.gated for machine in machines)
    wanted_before = set()
    time = 0
    while True:
        on = {k for k, machine in enumerate(machines) if any(a <= time < b for a, b in machine.on)}
        for k in on:
            last_on[k] = time + 1
        overrides = set()
        if on:
            last_any_on = time + 1
        delay_over = last_any_on is None or time >= last_any_on + rules.fan_delay
        if fan and not on and delay_over:
            if time < started + rules.minimum_run:
                overrides.add(("minimum-run", "delay", None))
            else:
                fan, stopped = False, time
        if not fan and on:
            if stopped is not None and time < stopped + rules.rest:
                overrides.add(("rest", "machine-on", None))
            else:
                fan, started = True, time
        wanted = {
            k
            for k, machine in enumerate(machines)
            if machine.gated and (k in on or (last_on[k] is not None and time < last_on[k] + machine.gate_delay))
        }
        opened = set(wanted)
        if wanted:
            kept = None
        else:
            just_shut = wanted_before - wanted
            if just_shut:
                if rules.held is not None:
                    kept = rules.held if rules.held in just_shut else None
                else:
                    kept = min(just_shut) if fan and not (rules.always_open or ungated) else None
            if rules.held is None and not fan:
                kept = None
            if rules.held is not None:
                opened = {rules.held}
            elif kept is not None:
                opened = {kept}
            if kept is not None:
                overrides.add(("never-all-shut", "delay", kept))
        wanted_before = wanted
        nothing_left = not on and not wanted and not fan
        if time >= duration and nothing_left and not any(b > time for m in machines for _, b in m.on):
            return seconds
        seconds.append(Second(opened, fan, overrides))
        time += 1


@st.composite
def spells(draw):
    marks = sorted(draw(st.lists(st.integers(0, DAY), max_size=8)))
    pairs = zip(marks[::2], marks[1::2], strict=False)
    return tuple((a, b) for a, b in pairs if a < b)


@st.composite
def days(draw):
    few = st.integers(0, 25)
    machines = [
        Machine(draw(spells()), draw(few), draw(st.sampled_from([True, True, True, False])))
        for _ in range(draw(st.integers(1, 4)))
    ]
    gated = [index for index, machine in enumerate(machines) if machine.gated]
    rules = Settings(
        fan_delay=draw(few),
        minimum_run=draw(st.integers(0, 40)),
        rest=draw(st.integers(0, 40)),
        held=draw(st.none() | st.sampled_from(gated)) if gated else None,
        always_open=draw(st.sampled_from([False, False, True])),
    )
    return machines, rules


@settings(max_examples=600, deadline=None)
@given(days())
def test_events_agree_with_a_day_stepped_through_second_by_second(day):
    machines, rules = day
    answer = follow(machines, rules, DAY)
    seconds = stepped(machines, rules, DAY)
    assert answer.states[-1].end == len(seconds)
    for state in answer.states:
        for time in range(state.start, state.end):
            assert (state.open, state.fan) == (seconds[time].open, seconds[time].fan), time
    told = [set() for _ in seconds]
    for override in answer.overrides:
        for time in range(override.time, override.until):
            told[time].add((override.rule, override.over, override.machine))
    assert told == [second.overrides for second in seconds]
    for index, (start, end) in answer.unserved:
        assert all(not seconds[time].fan for time in range(start, end))
        assert any(a <= start and end <= b for a, b in merged(machines[index].on))
    unserved = sum(end - start for _, (start, end) in answer.unserved)
    assert unserved == sum(not seconds[time].fan for machine in machines for a, b in machine.on for time in range(a, b))


@settings(max_examples=300, deadline=None)
@given(days())
def test_the_rules_hold_in_their_order(day):
    machines, rules = day
    answer = follow(machines, rules, DAY)
    assert answer.states[0].start == 0
    for before, after in zip(answer.states, answer.states[1:], strict=False):
        assert before.end == after.start
        assert (before.open, before.fan) != (after.open, after.fan)
    way_open = rules.always_open or not all(machine.gated for machine in machines)
    for state in answer.states:
        assert state.start < state.end
        if rules.held is not None or (state.fan and not way_open):
            assert state.open
    for start, end in answer.runs:
        assert end - start >= rules.minimum_run
    for (_, stop), (start, _) in zip(answer.runs, answer.runs[1:], strict=False):
        assert start > stop
        assert start - stop >= rules.rest


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(0, 60), unique=True, max_size=20).map(sorted), st.integers(0, 4), st.integers(1, 30))
def test_starts_are_counted_in_every_window_that_slides(starts, allowed, window):
    windows = [[start for start in starts if left <= start < left + window] for left in range(-window, 61)]
    assert most_starts(starts, window) == max(map(len, windows))
    broken = {kept[-1] for kept in windows if len(kept) > allowed}
    assert {time for time, _ in starts_beyond(starts, allowed, window)} == broken


@settings(max_examples=200, deadline=None)
@given(spells(), spells())
def test_what_is_left_of_spans_is_what_no_other_covers(spans, taken):
    spans, taken = merged(spans), merged(taken)
    left = {time for a, b in spans for time in range(a, b)} - {time for a, b in taken for time in range(a, b)}
    out = without(spans, taken)
    assert sorted(left) == [time for a, b in out for time in range(a, b)]


def test_off_belongs_to_the_pause_and_on_to_the_work():
    answer = follow([Machine(((10, 20),))], Settings(), 30)
    assert answer.states == (
        State(0, 10, frozenset(), False),
        State(10, 20, frozenset({0}), True),
        State(20, 30, frozenset(), False),
    )


def test_a_machine_that_goes_off_and_on_at_one_time_never_stopped():
    answer = follow([Machine(((10, 20), (20, 30)))], Settings(), 40)
    assert answer.runs == ((10, 30),)
    assert len(answer.states) == 3


def test_a_machine_that_comes_on_just_as_the_delay_ends_keeps_gate_and_fan():
    machines = [Machine(((0, 10), (15, 20)), gate_delay=5)]
    answer = follow(machines, Settings(fan_delay=5), 40)
    assert answer.runs == ((0, 25),)
    assert [state.end for state in answer.states if state.open] == [25]


def test_minimum_run_keeps_the_fan_and_never_all_shut_keeps_the_gate():
    answer = follow([Machine(((0, 10),))], Settings(fan_delay=5, minimum_run=60), 100)
    assert answer.runs == ((0, 60),)
    assert answer.overrides == (
        Override(10, 60, "never-all-shut", "delay", 0),
        Override(15, 60, "minimum-run", "delay"),
    )
    assert [state.open for state in answer.states] == [frozenset({0}), frozenset()]


def test_rest_makes_a_machine_wait_and_a_short_spell_goes_without():
    answer = follow([Machine(((0, 10), (20, 25), (40, 90)))], Settings(rest=60), 100)
    assert answer.runs == ((0, 10), (70, 90))
    assert answer.overrides == (
        Override(20, 25, "rest", "machine-on"),
        Override(40, 70, "rest", "machine-on"),
    )
    assert answer.unserved == ((0, (20, 25)), (0, (40, 70)))


def test_a_delay_alone_never_starts_the_fan():
    answer = follow([Machine(((0, 10), (20, 25)))], Settings(fan_delay=5, rest=15), 100)
    assert answer.runs == ((0, 15),)


def test_the_held_gate_gives_way_to_another_and_comes_back():
    machines = [Machine(((20, 30),), gate_delay=5), Machine(())]
    answer = follow(machines, Settings(held=1), 60)
    assert [(state.start, set(state.open)) for state in answer.states if not state.fan or state.start == 20] == [
        (0, {1}),
        (20, {0}),
        (30, {0}),
        (35, {1}),
    ]
    assert answer.overrides == ()


def test_the_day_goes_on_until_the_last_delay_has_ended():
    answer = follow([Machine(((50, 60),), gate_delay=7)], Settings(fan_delay=30), 60)
    assert answer.states[-1].end == 90


def test_a_day_without_work_is_one_state():
    assert follow([Machine(())], Settings(held=0), 60).states == (State(0, 60, frozenset({0}), False),)
