"""The content of a kernel: everything that its machine code is made from."""

from collections import namedtuple
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from numba.core.dispatcher import Dispatcher

import optimizer
from optimizer.compiled import compiled
from optimizer.compiled.content import content

PACKAGE = Path(optimizer.__file__).parent
INNER = """\
LIMIT = 2.0

@compiled
def inner(x):
    return x * LIMIT
"""
OUTER = """
@compiled
def outer(x):
    return inner(x)
"""
PLACE = INNER.replace("2.0", "namedtuple('Place', 'x y')").replace("x * LIMIT", "LIMIT(x, 1.0).x")
CHANGED = (
    INNER.replace("2.0", "3.0"),
    INNER.replace("2.0", "2"),
    INNER.replace("2.0", "0.0"),
    INNER.replace("2.0", "-0.0"),
    INNER.replace("2.0", "np.float32(2.0)"),
    INNER.replace("2.0", "(2.0, 1.0)"),
    INNER.replace("2.0", "np.ones(2)"),
    INNER.replace("2.0", "np.zeros(2)"),
    INNER.replace("2.0", "np.ones((2, 2))"),
    INNER.replace("x * LIMIT", "x + LIMIT"),
    INNER.replace("x * LIMIT", "x * 2.5"),
    INNER.replace("x * LIMIT", "sum([x * LIMIT for x in range(3)])"),
    INNER.replace("x * LIMIT", "sum([x * LIMIT for x in range(4)])"),
    INNER.replace("(x)", "(x, y=1.0)"),
    INNER.replace("(x)", "(x, y=2.0)"),
    INNER.replace("@compiled", '@compiled(error_model="numpy")'),
    PLACE,
    PLACE.replace("x y", "y x"),
)


def text(source: str) -> str:
    """The content of a kernel that calls the one of ``source``, both in the package."""
    held = {"compiled": compiled, "np": np, "namedtuple": namedtuple}
    held["__name__"] = "optimizer.sources"
    exec(source + OUTER, held)
    return repr(content(held["outer"]))


def test_whatever_changes_beneath_a_kernel_changes_its_content():
    assert len({text(INNER), *map(text, CHANGED)}) == 1 + len(CHANGED)


def test_the_place_in_the_file_does_not():
    assert text("# a line more\n" + INNER) == text(INNER)


def test_a_kernel_that_calls_itself_has_a_content():
    assert "outer" in text(INNER.replace("x * LIMIT", "inner(x)"))


@pytest.mark.parametrize("value", ["[1.0]", "{}", "object()", "lambda: 1"])
def test_a_value_that_can_not_be_told_is_refused(value):
    with pytest.raises(TypeError, match="can't describe"):
        text(INNER.replace("2.0", value))


def test_what_is_made_from_an_argument_that_can_not_be_told_is_not_kept(folder):
    held = {"compiled": compiled, "__name__": "sources"}
    exec("@compiled\ndef inner(x):\n    return len(x)\n", held)
    with pytest.warns(UserWarning, match="can't describe"):
        assert held["inner"]("word") == 4
    assert not folder.exists()


def test_fields_of_an_argument_are_told(folder):
    answers = []
    for fields in ("x y", "y x"):
        held = {"compiled": compiled, "__name__": "sources"}
        exec("@compiled\ndef first(place):\n    return place.x\n", held)
        answers.append(held["first"](namedtuple("Place", fields)(1.0, 2.0)))
    assert answers == [1.0, 2.0]


def test_a_list_that_one_kernel_hands_to_another_is_told(folder):
    held = {"compiled": compiled, "__name__": "sources"}
    exec("@compiled\ndef first(pairs):\n    return pairs[0][1]\n", held)
    exec("@compiled\ndef outer(x):\n    return first([(x, x + 1)])\n", held)
    assert held["outer"](1) == 2


def kernels() -> dict[str, Dispatcher]:
    """All kernels of the package, by module and name."""
    sources = [path for path in PACKAGE.rglob("*.py") if "\n@compiled" in path.read_text("utf-8")]
    modules = [path.relative_to(PACKAGE.parent).with_suffix("").parts for path in sources]
    held = [(".".join(parts), vars(import_module(".".join(parts)))) for parts in modules]
    return {
        f"{module}.{name}": value
        for module, names in held
        for name, value in names.items()
        if isinstance(value, Dispatcher)
    }


def test_all_kernels_of_the_package_are_told_without_an_address():
    told = {name: repr(content(kernel)) for name, kernel in kernels().items()}
    assert len(told) > 100
    assert not [name for name, text in told.items() if " at 0x" in text]
