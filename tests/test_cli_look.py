"""``kerfwise look`` from the command line."""

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from optimizer import cli


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["kerfwise", "look", *arguments])
    with pytest.raises(SystemExit) as left:
        cli.main()
    return int(left.value.code or 0)


TWO = ("long-hexagon", "--towards", "7a4fb0@12", "--away=#e8b83a@12", "--offset", "0.3")


def test_a_stone_is_told_and_drawn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "stone.png"
    assert run(monkeypatch, *TWO, "--set", "crown=36", "--rock", "--out", str(out)) == 0
    told = capsys.readouterr().out
    assert told.startswith("long-hexagon of quartz, 10 mm wide.\nLight return ")
    assert "#7a4fb0 is " in told.lower()
    assert f"Picture: {out}, clouded sky, rocked below" in told
    picture = np.asarray(Image.open(out)).astype(int)
    assert picture.shape[1:] == (512, 3)
    assert 300 < picture.shape[0] < 640
    # The end towards +x, at the right, is the violet one: bluer than the other.
    blue = picture[100:250, :, 2] - picture[100:250, :, 0]
    assert blue[:, 300:].mean() > blue[:, :212].mean() + 10
    assert run(monkeypatch, *TWO, "--out", str(out)) == 2
    assert "is there already" in capsys.readouterr().err


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
def test_a_wrong_call_is_one_line(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    said: str,
) -> None:
    assert run(monkeypatch, *arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert said in captured.err
