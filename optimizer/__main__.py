"""The command ``kerfwise`` from its first moment: Ctrl-C is answered while all else still loads."""

import sys

from optimizer.running.leaving import leave


def main() -> None:
    """Run the command line."""
    sys.excepthook = _shown
    import signal

    signal.signal(signal.SIGINT, leave)
    try:
        from optimizer.cli import main as run

        run()
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # all is said: nothing is left to stop


def _shown(kind, error, trace):  # type: ignore[no-untyped-def]  # their types take long to load
    if kind is KeyboardInterrupt:
        leave()
    sys.__excepthook__(kind, error, trace)


if __name__ == "__main__":
    main()
