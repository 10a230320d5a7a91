"""A page in a real browser (Chromium, headless, software WebGL), opened from a file.

A probe is added to a copy of the page: it presses buttons as a person would, looks at the result,
and leaves what it saw in the document, which the browser prints.
"""

import json
import os
import re
import shutil
import subprocess
from html import unescape

import pytest

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--no-first-run",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--disable-component-update",
    "--disable-background-networking",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--enable-logging=stderr",
    "--window-size=900,700",
    "--virtual-time-budget=20000",
    "--dump-dom",
]

PROBE = """
<script>
window.seen = { errors: [] };
// A browser that only prints the document shows no frames, so it never calls back for one.
window.requestAnimationFrame = (draw) => setTimeout(draw, 0);
window.addEventListener("error", (event) => window.seen.errors.push(event.message));
document.addEventListener("securitypolicyviolation", (e) => window.seen.errors.push(e.blockedURI));
</script>
"""


def browse(page, folder, look, *flags, head=PROBE):
    """(what the probe saw, what the browser logged) for a page opened from a file."""
    if BROWSER is None:
        message = "no Chromium here: the page is not looked at"
        if os.environ.get("CI") == "true":
            pytest.fail(message)
        pytest.skip(message)
    probed = page.replace("<head>", "<head>" + head, 1).replace("</body>", look + "</body>", 1)
    path = folder / "report.html"
    path.write_text(probed, encoding="utf-8")
    run = subprocess.run(
        [BROWSER, *FLAGS, f"--user-data-dir={folder / 'profile'}", *flags, path.as_uri()],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    found = re.search(r'data-seen="([^"]*)"', run.stdout)
    assert found, run.stdout[-500:] + run.stderr[-2000:]
    return json.loads(unescape(found[1])), run.stderr


def complaints(log):
    """The lines of the console in what the browser logged."""
    spoken = [line for line in log.splitlines() if "CONSOLE" in line]
    # Reading pixels back makes the software driver remark on speed: the probe's doing.
    return [line for line in spoken if "GL Driver Message (OpenGL, Performance" not in line]
