"""The files of a check."""

from pathlib import Path

from optimizer.marking.page import marking_html
from optimizer.marking.picture import check_png
from optimizer.rough import with_flats
from optimizer.rough.model import Rough
from optimizer.rough.rough_file.save import save_rough


def write_check(rough: Rough, folder: Path) -> None:
    """Write the marking page, the picture, the mended solid and a rough file for that solid into
    ``folder``, which is made where it is missing.

    Where the rough file names no reference faces, flat places are looked for.
    """
    folder.mkdir(parents=True, exist_ok=True)
    piece = with_flats(rough)
    save_rough(piece, folder / "rough.toml")
    text = (folder / "rough.toml").read_text(encoding="utf-8")
    (folder / "check.png").write_bytes(check_png(piece))
    (folder / "marking.html").write_text(marking_html(piece, text), encoding="utf-8")
