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


def compiled_functions(path):
    """Return the functions of a source that are compiled, uncompiled: by their decorator, or as numba's own say."""
    module = module_of(path)
    decorated = [
        getattr(module, node.name)
        for node in ast.parse(path.read_text()).body
        if {ast.unparse(decorator) for decorator in getattr(node, "decorator_list", [])}
        & {"compiled", "inlined", "inner"}
    ]
    called = [thing for thing in vars(module).values() if hasattr(thing, "py_func")]
    functions = {getattr(thing, "py_func", thing) for thing in decorated + called}
    return {function for function in functions if function.__module__ == module.__name__}


def test_every_compiled_function_stands_in_a_digested_source():
    found = 0
    for path in ROOT.rglob("*.py"):
        functions = compiled_functions(path)
        found += len(functions)
        assert not functions or path in KNOWN, path
    assert found > 150


def test_what_they_take_from_elsewhere_in_the_core_is_digested_too():
    """A compiled function freezes the numbers and tuples that it imports; those of types alone are left out."""
    for path in KNOWN:
        frozen = {name for function in compiled_functions(path) for name in function.__code__.co_names}
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("airbough_service.core."):
                source = ROOT.parents[1] / Path(*node.module.split("."))
                for alias in node.names:
                    if (alias.asname or alias.name) in frozen:
                        module_taken = source / f"{alias.name}.py"
                        found = module_taken if module_taken.exists() else source.with_suffix(".py")
                        assert found in KNOWN, (path.name, found.name)
