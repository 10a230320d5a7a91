"""Whatever stands at the other end of stdout and stderr, the work goes on."""

import io
import os
import sys

import pytest

from optimizer.running import streams
from optimizer.running.streams import make_streams_robust, print_error, write_error

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a matter of POSIX descriptors")


@pytest.fixture
def standing(monkeypatch):
    """Puts a descriptor in the place of stdout, and gives the stream that is made of it."""

    def stand(number: int) -> io.TextIOWrapper:
        stream = open(number, "w", encoding="ascii")  # noqa: SIM115
        monkeypatch.setattr(sys, "stdout", stream)
        monkeypatch.setattr(sys, "__stdout__", stream)
        make_streams_robust()
        opened.append(stream)
        return sys.stdout

    opened: list[io.TextIOWrapper] = []
    yield stand
    for stream in opened:
        stream.close()


def test_a_pipe_whose_reader_has_left_is_no_trouble(standing):
    read, write = os.pipe()
    os.close(read)
    stream = standing(write)
    print("lost", file=stream, flush=True)
    assert write_error(stream) is None


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device here")
def test_a_full_disk_is_told_and_kept_in_mind(standing):
    stream = standing(os.open("/dev/full", os.O_WRONLY))
    assert write_error(stream) is None
    print("lost", file=stream, flush=True)
    stream.flush()  # as at the end: nothing is left that could fail
    assert write_error(stream) == "No space left on device"


def test_what_can_be_written_is_and_unknown_letters_are_marked(standing):
    read, write = os.pipe()
    stream = standing(write)
    print("grün", file=stream)
    assert os.read(read, 100) == b"gr?n\n"
    assert (write_error(stream), stream.isatty(), stream.fileno()) == (None, False, write)
    os.close(read)


def test_a_pipe_that_waits_for_nobody_is_waited_for(standing, monkeypatch):
    """Its reader takes what is there whenever the writer would have to wait."""
    read, write = os.pipe()
    os.set_blocking(write, False)
    stream, got, waited = standing(write), [], []

    def wait(*_: object) -> None:
        waited.append(1)
        got.append(os.read(read, 1 << 20))

    monkeypatch.setattr(streams.select, "select", wait)
    text = "0123456789" * 50_000  # more than any pipe holds
    print(text, file=stream, flush=True)
    got.append(os.read(read, 1 << 20))
    assert b"".join(got).decode() == text + "\n"
    assert waited
    os.close(read)


@pytest.mark.parametrize("fault", [BrokenPipeError, ValueError("closed"), RuntimeError])
def test_a_line_that_cant_be_told_is_lost(monkeypatch, fault):
    class Broken(io.StringIO):
        def write(self, text: str) -> int:
            raise fault

    monkeypatch.setattr(sys, "stderr", Broken())
    print_error("anything")


def test_what_is_told_commands_no_terminal(capsys):
    print_error("out\x1b[2J: there")
    assert capsys.readouterr().err == "out\\x1b[2J: there\n"


def test_a_line_printed_in_the_middle_of_a_write_is_not_lost(monkeypatch):
    """As a signal handler prints it: the buffer refuses to be written to twice at once."""
    read, write = os.pipe()

    class Interrupted(io.RawIOBase):
        calls = 0

        def writable(self) -> bool:
            return True

        def fileno(self) -> int:
            return write

        def write(self, data):
            self.calls += 1
            written = os.write(write, data)
            if self.calls == 1:
                print_error("the stop")
            return written

    buffer = io.BufferedWriter(streams._RobustWriter(Interrupted()))
    monkeypatch.setattr(sys, "stderr", io.TextIOWrapper(buffer, "utf-8", line_buffering=True))
    print_error("the progress")
    print_error("the end")
    assert os.read(read, 100) == b"the progress\nthe stop\nthe end\n"
    os.close(read)
