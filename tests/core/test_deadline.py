import threading
import time

import pytest

from airbough_service.core import deadline


def test_without_a_limit_nothing_is_given_up():
    deadline.check()
    with deadline.limited(None):
        deadline.check()


def test_past_the_limit_the_work_is_given_up_and_what_follows_is_not():
    with deadline.limited(time.monotonic() - 1.0), pytest.raises(deadline.OutOfTimeError):
        deadline.check()
    deadline.check()


def test_the_nearer_of_two_limits_holds():
    past, ahead = time.monotonic() - 1.0, deadline.within(60.0)
    with deadline.limited(past), deadline.limited(ahead), pytest.raises(deadline.OutOfTimeError):
        deadline.check()
    with deadline.limited(deadline.within(60.0)):
        with deadline.limited(time.monotonic() - 1.0), pytest.raises(deadline.OutOfTimeError):
            deadline.check()
        deadline.check()


def test_a_limit_holds_for_its_own_thread_alone():
    other = []
    with deadline.limited(time.monotonic() - 1.0):
        thread = threading.Thread(target=lambda: other.append(deadline.check()))
        thread.start()
        thread.join()
    assert other == [None]
