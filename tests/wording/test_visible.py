"""What a terminal may be shown."""

import pytest

from optimizer.wording.visible import MOST_LETTERS, visible


@pytest.mark.parametrize(
    ("line", "seen"),
    [
        ("Größe 石 5 × 3 mm", "Größe 石 5 × 3 mm"),
        ("a\x1b[2Jb", "a\\x1b[2Jb"),
        ("a\nb\tc\x7f\x9b", "a\\x0ab\\x09c\\x7f\\x9b"),
        ("a\u202eb\u2066", "a\\u202eb\\u2066"),
        ("a\udcffb", "a\\udcffb"),  # a byte of a file's name that is no text
    ],
)
def test_what_commands_a_terminal_is_escaped(line: str, seen: str) -> None:
    assert visible(line) == seen


def test_a_long_line_keeps_its_beginning_and_its_end() -> None:
    line = visible("x.stl: " + "a" * 100_000 + "; check the path")
    assert line.startswith("x.stl: aaa")
    assert line.endswith("aaa; check the path")
    assert len(line) <= MOST_LETTERS
    assert len(visible("\x1b" * 100_000)) <= MOST_LETTERS
    assert len(visible("a" * 300, 99)) <= 99
    assert visible("a" * MOST_LETTERS) == "a" * MOST_LETTERS
