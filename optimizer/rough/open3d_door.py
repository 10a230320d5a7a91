"""The one door to open3d, which needs the library libusb-1.0 that a bare machine lacks.

PyPI's libusb-package brings that library; loaded first, it serves open3d's import.
"""

import ctypes
from functools import cache
from typing import Any

from optimizer.errors import InputError


@cache
def open3d() -> Any:
    """The open3d module. Raises InputError, saying why, where it cannot be loaded."""
    _load_libusb()
    try:
        import open3d as module
    except (ImportError, OSError) as error:
        raise InputError(f"open3d cannot be loaded: {_first_line(error)}") from None
    module.utility.set_verbosity_level(module.utility.VerbosityLevel.Error)
    return module


def _load_libusb() -> None:
    """Load libusb from PyPI's package. Where that fails, the machine may still have the library,
    and open3d's import decides."""
    try:
        import libusb_package

        path = libusb_package.get_library_path()
        if path is not None:
            ctypes.CDLL(str(path), mode=getattr(ctypes, "RTLD_GLOBAL", 0))
    except (ImportError, OSError):
        return


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
