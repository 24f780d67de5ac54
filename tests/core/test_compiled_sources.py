"""The folder of the machine code is named after every source that machine code is made of."""

import ast
import importlib
from pathlib import Path

import airbough_service.core as core

ROOT = Path(core.__file__).parent
KNOWN = set(core.compiled_sources())


def module_of(path):
    name = ".".join(path.relative_to(ROOT.parents[1]).with_suffix("").parts)
    return importlib.import_module(name.removesuffix(".__init__"))


def test_every_compiled_function_stands_in_a_digested_source():
    found = 0
    for path in ROOT.rglob("*.py"):
        own = module_of(path).__name__
        for thing in vars(module_of(path)).values():
            if hasattr(thing, "py_func") and thing.py_func.__module__ == own:
                found += 1
                assert path in KNOWN, thing
    assert found > 50


def test_what_they_take_from_elsewhere_in_the_core_is_digested_too():
    """A compiled function freezes the numbers and tuples that it imports; those of types alone are left out."""
    for path in KNOWN:
        module = module_of(path)
        frozen = {
            name
            for thing in vars(module).values()
            if hasattr(thing, "py_func") and thing.py_func.__module__ == module.__name__
            for name in thing.py_func.__code__.co_names
        }
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("airbough_service.core."):
                source = ROOT.parents[1] / Path(*node.module.split("."))
                for alias in node.names:
                    if (alias.asname or alias.name) in frozen:
                        module_taken = source / f"{alias.name}.py"
                        found = module_taken if module_taken.exists() else source.with_suffix(".py")
                        assert found in KNOWN, (path.name, found.name)
