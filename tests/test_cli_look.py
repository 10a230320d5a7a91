"""``kerfwise look`` from the command line."""

from pathlib import Path

import numpy as np
import pytest
from command import Run, refused
from PIL import Image

TWO = ("long-hexagon", "--towards", "7a4fb0@12", "--away=#e8b83a@12", "--offset", "0.3")


def test_a_stone_is_told_and_drawn(tmp_path: Path, run: Run) -> None:
    out = tmp_path / "stone.png"
    ran = run("look", *TWO, "--set", "crown=36", "--rock", "--out", out)
    assert ran.status == 0
    told = ran.out
    assert told.startswith("long-hexagon of quartz, 10 mm wide.\nLight return ")
    assert "#7a4fb0 is " in told.lower()
    assert f"Picture: {out}, clouded sky, rocked below" in told
    picture = np.asarray(Image.open(out)).astype(int)
    assert picture.shape[1:] == (512, 3)
    assert 300 < picture.shape[0] < 640
    # The end towards +x, at the right, is the violet one: bluer than the other.
    blue = picture[100:250, :, 2] - picture[100:250, :, 0]
    assert blue[:, 300:].mean() > blue[:, :212].mean() + 10
    refused(run("look", *TWO, "--out", out), "exists already")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("long-hexagen",), 'did you mean "long-hexagon"'),
        (("long-hexagon", "--light", "moon"), 'lighting "moon" is not known'),
        (("long-hexagon", "--rock"), "--rock is for the picture: give --out too"),
        (("long-hexagon", "--out", "face.jpg"), "face.jpg: the picture is a PNG"),
        (("long-hexagon", "--width", "wide"), "--width"),
        (("long-hexagon", "--tilt", "3"), "give --towards and --away"),
    ],
)
def test_a_wrong_call_is_one_line(run: Run, arguments: tuple[str, ...], said: str) -> None:
    refused(run("look", *arguments), said)
