"""The frame of a self-contained page: it opens from a file, and fetches nothing."""

from html import escape
from importlib.resources import files

POLICY = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:"


def page_frame(title: str, body: str, data: str, styles: str, scripts: str) -> str:
    """The whole page around ``body`` (escaped HTML), whose policy forbids the browser to fetch.

    ``data`` is the JSON that the classic ``scripts`` find in the element ``scene-data``.
    """
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{escape(title)}</title><style>{styles}</style></head>"
        f"<body><main>{body}</main>"
        f'<script type="application/json" id="scene-data">{data}</script>'
        f"<script>{scripts}</script></body></html>\n"
    )


def texts(package: str, *names: str) -> str:
    """The text of the files ``names`` of a package, one after the other."""
    home = files(package)
    return "".join(home.joinpath(name).read_text(encoding="utf-8") for name in names)
