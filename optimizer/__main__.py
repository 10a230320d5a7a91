"""The command ``kerfwise`` from its first moment: Ctrl-C is answered while all else still loads."""

import os
import sys

from optimizer.running.giving_up import give_up


def main() -> None:
    """Run the command line."""
    sys.excepthook = _shown
    # Our own threads use the cores; those of numpy's linear algebra would only wait for each other,
    # and the last digit of a sum would hang on their number. Read where numpy loads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    import signal

    signals = [getattr(signal, n, None) for n in ("SIGINT", "SIGTERM", "SIGHUP")]
    heeded = [n for n in signals if n is not None]
    for number in heeded:
        if number == signal.SIGINT or signal.getsignal(number) != signal.SIG_IGN:  # as by nohup
            signal.signal(number, give_up)
    try:
        from optimizer.cli import main as run

        run()
    finally:
        for number in heeded:  # all is said: nothing is left to stop
            signal.signal(number, signal.SIG_IGN)


def _shown(kind, error, trace):  # type: ignore[no-untyped-def]  # their types take long to load
    if kind is KeyboardInterrupt:
        give_up()
    sys.__excepthook__(kind, error, trace)


if __name__ == "__main__":
    main()
