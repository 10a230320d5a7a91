"""Progress and Ctrl-C."""

import os
import signal
from io import StringIO

import pytest
from rich.text import Text

from optimizer import progress
from optimizer.progress import watched


class Terminal:
    """Stands for rich's live line."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def update(self, text: Text) -> None:
        self.said.append(text.plain)


@pytest.fixture
def clock(monkeypatch) -> list[float]:
    now = [0.0]
    monkeypatch.setattr(progress, "monotonic", lambda: now[0])
    return now


class LeftError(Exception):
    """The process would have ended."""


@pytest.fixture(autouse=True)
def giving_up(monkeypatch) -> None:
    def give_up() -> None:
        raise LeftError

    monkeypatch.setattr(progress, "give_up", give_up)


def press() -> None:
    """Ctrl-C, as the running handler gets it."""
    os.kill(os.getpid(), signal.SIGINT)


def test_the_first_stop_asks_and_says_what_follows_the_second_ends(capsys):
    with watched() as watch:
        watch.progress("Oval: looking around", 1, 20, 3.24)
        assert not watch.stop()
        press()
        assert watch.stop()
        watch.progress("Oval: climbing", 1, 20, 3.24)
        with pytest.raises(LeftError):
            press()
    assert capsys.readouterr().err.splitlines() == [progress.STOPPING]


def test_no_live_line_where_there_is_no_terminal(capsys, monkeypatch, clock):
    monkeypatch.setenv("FORCE_COLOR", "1")
    with watched() as watch:
        clock[0] += progress.PLAIN_EVERY_S
        watch.progress("Oval: climbing", 1, 20, 3.25)
    assert capsys.readouterr().err == "Oval: climbing 1/20, best so far about 3.2 mm wide\n"


def test_with_nothing_to_keep_the_first_stop_ends(capsys):
    with watched() as watch:
        for best in (0.0, float("-inf"), float("inf")):
            watch.progress("Oval: looking around", 1, 20, best)
        with pytest.raises(LeftError):
            press()
    assert capsys.readouterr().err == ""


def test_what_is_no_size_is_kept_once_it_is_told():
    with watched() as watch:
        watch.progress("sawing apart", 1, 6, 0.0)
        watch.keeps()
        press()
        assert watch.stop()


def test_after_a_stop_progress_is_quiet(capsys, clock):
    with watched() as watch:
        watch.progress("Oval: looking around", 1, 20, 3.24)
        press()
        clock[0] = 100.0
        watch.progress("Oval: climbing", 1, 20, 3.24)
    assert capsys.readouterr().err.splitlines() == [progress.STOPPING]


def test_the_old_answer_to_a_stop_comes_back():
    before = signal.getsignal(signal.SIGINT)
    with watched():
        assert signal.getsignal(signal.SIGINT) is not before
    assert signal.getsignal(signal.SIGINT) is before
    with pytest.raises(ZeroDivisionError), watched():
        raise ZeroDivisionError
    assert signal.getsignal(signal.SIGINT) is before


def test_away_from_a_terminal_one_plain_line_now_and_then(capsys, clock):
    with watched() as watch:
        for second in range(21):
            clock[0] = float(second)
            watch.progress("Oval: climbing", second, 20, 3.24)
    lines = capsys.readouterr().err.splitlines()
    best = "best so far about 3.2 mm wide"
    assert lines == [f"Oval: climbing {s}/20, {best}" for s in (5, 10, 15, 20)]


@pytest.mark.parametrize("fault", [BrokenPipeError, OSError(28, "full"), ValueError("closed")])
def test_a_line_that_cant_be_written_stops_nothing(monkeypatch, clock, fault):
    class Broken(StringIO):
        def write(self, text: str) -> int:
            raise fault

    monkeypatch.setattr("sys.stderr", Broken())
    with watched() as watch:
        clock[0] = 100.0
        watch.progress("Oval: climbing", 1, 20, 3.24)
        press()
        assert watch.stop()


def test_quick_work_says_nothing(capsys, clock):
    with watched() as watch:
        watch.progress("Oval: climbing", 1, 20, 3.24)
    assert capsys.readouterr().err == ""


def test_on_a_terminal_every_step_is_shown_in_place(capsys):
    terminal = Terminal()
    progress._Line(terminal)("[/b] Oval: climbing", 1, 20, 3.24)
    assert terminal.said == ["[/b] Oval: climbing 1/20, best so far about 3.2 mm wide"]
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("best", [0.0, -1.0, float("-inf"), float("inf"), float("nan")])
def test_nothing_yet_is_not_called_best(best):
    terminal = Terminal()
    progress._Line(terminal)("Oval: looking around", 1, 20, best)
    assert terminal.said == ["Oval: looking around 1/20"]
