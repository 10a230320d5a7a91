"""Ctrl-C and what is tidied up, in a process that ends by it and in one that doesn't."""

import os
import signal
import threading

import pytest

from optimizer.running import giving_up
from optimizer.running.stopping import cleaned_up, interrupt_handled_by, undisturbed


@pytest.fixture
def exits(monkeypatch) -> list[int]:
    left: list[int] = []
    monkeypatch.setattr(os, "_exit", left.append)
    return left


def test_leaving_tidies_up_the_latest_first_and_says_one_line(exits, capfd):
    done: list[str] = []
    with cleaned_up(lambda: done.append("first")), cleaned_up(lambda: done.append("second")):
        giving_up.give_up()
        assert done == ["second", "first"]
    assert exits == [130]
    assert capfd.readouterr().err == f"kerfwise: {giving_up.GIVEN_UP}\n"


def test_a_kill_and_a_closed_terminal_end_as_shells_expect(exits, capfd):
    """POSIX: a shell gives 128 and the signal's number, or more; common shells give just that."""
    giving_up.give_up(signal.SIGTERM, None)
    giving_up.give_up(signal.SIGHUP, None)
    assert exits == [143, 129]


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_undisturbed_no_signal_is_heeded(sent):
    before = signal.getsignal(sent)
    with undisturbed():
        os.kill(os.getpid(), sent)
    assert signal.getsignal(sent) is before


def test_leaving_needs_no_stream(exits, monkeypatch):
    def closed(*_: object) -> int:
        raise OSError(9, "closed")

    monkeypatch.setattr(os, "write", closed)
    giving_up.give_up()
    assert exits == [130]


def test_it_is_tidied_once_whatever_comes():
    done: list[int] = []

    def fail() -> None:
        with cleaned_up(lambda: done.append(1)):
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert (done, giving_up.cleanups) == ([1], [])


def test_what_answered_before_answers_again():
    pressed: list[int] = []
    before = signal.getsignal(signal.SIGINT)
    with interrupt_handled_by(lambda number, _: pressed.append(number)):
        os.kill(os.getpid(), signal.SIGINT)
    assert pressed == [signal.SIGINT]
    assert signal.getsignal(signal.SIGINT) is before


def test_another_thread_answers_nothing_and_goes_on():
    done: list[int] = []

    def work() -> None:
        with interrupt_handled_by(signal.SIG_IGN):
            done.append(1)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert done == [1]
