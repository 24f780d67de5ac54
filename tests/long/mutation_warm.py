"""A pytest session that has collected everything and answers for one mutant after another, each in a fork of itself.

Only functions can be changed in what is already imported: their code objects are put in place, so that whoever holds
the function runs the mutant. What a module does while it is imported needs a new import (`mutation_forked`).
"""

import gc
import inspect
import os
import pickle
import resource
import struct
import sys
import types

import mutation_forked as forked
import pytest
from mutation_reach import caches

NOT_LIVING = 98  # exit status


def changed_code(path, original, mutated):
    """Return qualified name and first line -> new code of each function that differs; None where more than these do."""
    before, after = (list(codes(compile(text, path, "exec"))) for text in (original, mutated))
    if len(before) != len(after):
        return None
    found = {}
    for one, other in zip(before, after, strict=True):
        if bare(one) != bare(other):
            root = one.co_qualname.split(".<locals>")[0]  # what is defined inside is made anew by each call
            outer = [index for index, code in enumerate(before) if code.co_qualname == root]
            if not one.co_flags & inspect.CO_NEWLOCALS or len(outer) != 1:
                return None  # a module's or a class's own code
            found[root, before[outer[0]].co_firstlineno] = after[outer[0]]
    return found or None


def codes(code):
    """Give a code object and all in it."""
    yield code
    for one in code.co_consts:
        if isinstance(one, types.CodeType):
            yield from codes(one)


def bare(code):
    """Return what a code object does itself, without places and without the code objects in it."""
    consts = tuple((type(one), repr(one)) for one in code.co_consts if not isinstance(one, types.CodeType))
    return code.co_code, consts, code.co_names, code.co_varnames


def put_in_place(path, found):
    """Give every living function of a file its new code; return how many there were."""
    living = [one for one in gc.get_objects() if isinstance(one, types.FunctionType)]
    mine = [one for one in living if one.__code__.co_filename == path]
    put = [(one, found.get((one.__code__.co_qualname, one.__code__.co_firstlineno))) for one in mine]
    for one, code in put:
        if code is not None:
            one.__code__ = code
    return sum(code is not None for _, code in put)


class Server:
    """Serves mutants, in place of running the tests."""

    def __init__(self, copy, asked, answers):
        self.copy, self.asked, self.answers = copy, asked, answers
        self.failed = ""

    def pytest_runtest_logreport(self, report):
        if report.failed and not self.failed:
            self.failed = report.nodeid

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session):
        items = {item.nodeid: item for item in session.items}
        send(self.answers, sorted(items))
        while (question := receive(self.asked)) is not None:
            send(self.answers, self.answer(items, *question))
        return True

    def answer(self, items, path, original, mutated, tests, limit):
        """Return status (None: out of time) and which test failed."""
        ours, theirs = os.pipe()
        child = os.fork()
        if not child:
            status = 99
            try:
                os.setsid()
                resource.setrlimit(resource.RLIMIT_CPU, (int(limit), int(limit) + 5))
                status = NOT_LIVING
                if put_in_place(path, changed_code(path, original, mutated)):
                    for cache in caches(self.copy):
                        cache.cache_clear()
                    status = self.run([items[test] for test in tests if test in items])
                    send(theirs, self.failed)
            finally:
                os._exit(status)
        os.close(theirs)
        status = forked.wait(child, forked.WALL * limit)
        failed = receive(ours) if status == 1 else ""
        os.close(ours)
        return status, failed

    def run(self, items):
        """Run tests until one fails."""
        for item, following in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed:
                return 1
        return 0


class Warm:
    """The other end: a process with such a session."""

    def __init__(self, copy, files, core):
        asked, self.asked = os.pipe()
        self.answers, answers = os.pipe()
        self.process = os.fork()
        if not self.process:
            try:
                os.close(self.asked)
                nothing = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nothing, 1)
                os.chdir(copy)
                sys.dont_write_bytecode = True
                options = forked.options(core)
                pytest.main([*options, "-s", "--rootdir", str(copy), *files], plugins=[Server(copy, asked, answers)])
            finally:
                os._exit(0)
        os.close(asked)
        os.close(answers)
        self.known = set(receive(self.answers))

    def ask(self, path, original, mutated, tests, limit):
        """Return status and which test failed of one mutant; None where more than functions change."""
        if changed_code(path, original, mutated) is None or not self.known.intersection(tests):
            return None
        send(self.asked, (path, original, mutated, tests, limit))
        status, failed = receive(self.answers)
        return None if status == NOT_LIVING else (status, failed)

    def close(self):
        """End the process."""
        send(self.asked, None)
        forked.wait(self.process, 20.0)


def send(pipe, what):
    data = pickle.dumps(what)
    os.write(pipe, struct.pack("<Q", len(data)))
    while data:
        data = data[os.write(pipe, data) :]


def receive(pipe):
    (left,) = struct.unpack("<Q", _read(pipe, 8))
    return pickle.loads(_read(pipe, left))


def _read(pipe, left):
    data = b""
    while left:
        part = os.read(pipe, left)
        if not part:
            raise EOFError("the warm session ended")
        data += part
        left -= len(part)
    return data
