"""Settings for the whole suite."""

import hashlib
import os
from pathlib import Path

from hypothesis import settings

ROOT = Path(__file__).parents[1]

# Derandomised and without deadlines: a slow machine is not a failure, and CI never flickers. Few
# examples each, since there are many such tests and the whole suite is to end within minutes.
EXAMPLES = 12
settings.register_profile(
    "ci", derandomize=True, deadline=None, print_blob=True, max_examples=EXAMPLES
)
settings.load_profile("ci")


def compiled_by(worker: str) -> Path:
    """The folder for a worker's machine code, another one whenever a compiled source changes."""
    texts = [path.read_bytes() for path in sorted((ROOT / "optimizer").rglob("*.py"))]
    sources = b"".join(text for text in texts if b"njit" in text)
    return ROOT / ".pytest_cache" / "numba" / hashlib.sha256(sources).hexdigest()[:12] / worker


# Two workers that compile at once would take the same file names in numba's cache: each may read
# the other's code for its own. Set before numba is imported, and passed on to our own processes.
if "PYTEST_XDIST_WORKER" in os.environ:
    os.environ["NUMBA_CACHE_DIR"] = str(compiled_by(os.environ["PYTEST_XDIST_WORKER"]))
