"""Kinds of files in words."""

import stat

_SPECIAL = (
    (stat.S_ISFIFO, "pipe"),
    (stat.S_ISSOCK, "socket"),
    (stat.S_ISCHR, "device"),
    (stat.S_ISBLK, "device"),
)


def file_kind(mode: int) -> str:
    """What a path names that is no folder, by the ``st_mode`` of the system's answer."""
    if stat.S_ISREG(mode):
        return "file"
    return next((words for is_such, words in _SPECIAL if is_such(mode)), "special file")
