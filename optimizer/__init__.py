"""Plan how to cut stones from a scanned piece of rough.

The names below load on first use, so that ``import optimizer`` and ``kerfwise --help`` stay quick.
"""

__version__ = "0.1.0"

TYPE_CHECKING = False  # the type checkers know it by this name; typing would take long to load

if TYPE_CHECKING:
    from optimizer.design import load_design as load_design
    from optimizer.order import load_order as load_order
    from optimizer.placement import largest_copy as largest_copy
    from optimizer.plan import make_plan as make_plan
    from optimizer.rough import load_rough as load_rough

_HOMES = {
    "load_rough": "optimizer.rough",
    "load_design": "optimizer.design",
    "load_order": "optimizer.order",
    "largest_copy": "optimizer.placement",
    "make_plan": "optimizer.plan",
}

__all__ = ["__version__", "largest_copy", "load_design", "load_order", "load_rough", "make_plan"]


def __getattr__(name: str) -> object:
    from importlib import import_module

    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'optimizer' has no attribute {name!r}")
