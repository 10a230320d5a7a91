"""The check's folder: complete or absent."""

from pathlib import Path

from optimizer.folder import whole_folder
from optimizer.marking.page import marking_html
from optimizer.marking.picture import check_png
from optimizer.rough import with_flats
from optimizer.rough.model import Rough
from optimizer.rough.save import save_rough


def write_check(rough: Rough, out: Path, *, replace: bool) -> None:
    """Write the marking page, the picture, the mended solid and a rough file for it to ``out``.

    Flat places are looked for where the rough file names none. Raises InputError where ``out``
    exists and may not be replaced.
    """
    with whole_folder(out, replace) as fresh:
        piece = with_flats(rough)
        save_rough(piece, fresh / "rough.toml")
        text = (fresh / "rough.toml").read_text(encoding="utf-8")
        (fresh / "check.png").write_bytes(check_png(piece))
        (fresh / "marking.html").write_text(marking_html(piece, text), encoding="utf-8")
