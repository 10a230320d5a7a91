"""The files of a plan's folder, by the names that plan.json gives them."""

from typing import Annotated

from pydantic import Field


def alternative_folder(number: int) -> str:
    """Where the files of alternative ``number`` (from 0) lie, under the names of a plan's."""
    return f"alternatives/{number + 1:02d}"


def stone_mesh(index: int) -> str:
    """Where the mesh of stone ``index`` (from 0) lies in the plan's folder."""
    return f"stones/{index + 1:02d}.ply"


def face_picture(index: int) -> str:
    """Where the picture of stone ``index`` (from 0), face up, lies."""
    return f"face-up/{index + 1:02d}.png"


def piece_mesh(piece_id: int) -> str:
    """Where the mesh of a piece lies; piece 0 is the rough itself."""
    return f"pieces/{piece_id:02d}.ply" if piece_id else "rough.ply"


def offcut_mesh(piece_id: int) -> str:
    """Where the mesh of a kept offcut lies; its rough file has the same stem."""
    return f"offcuts/{piece_id:02d}.ply"


def offcut_file(piece_id: int) -> str:
    """Where the rough file of a kept offcut lies."""
    return f"offcuts/{piece_id:02d}.toml"


def offcut_label(piece_id: int) -> str:
    """Where the label of a kept offcut lies."""
    return f"offcuts/{piece_id:02d}-label.svg"


def flaw_mesh(number: int) -> str:
    """Where the mesh of a flaw lies, by its place in the list of flaws."""
    return f"flaws/{number + 1:02d}.ply"


# No name leads out of the folder: only these are read back.
_HOME = "^(alternatives/[0-9]{2,}/)?"
StoneMesh = Annotated[str, Field(pattern=_HOME + r"stones/[0-9]{2,}\.ply$")]
FacePicture = Annotated[str, Field(pattern=_HOME + r"face-up/[0-9]{2,}\.png$")]
PieceMesh = Annotated[
    str, Field(pattern=r"^(rough|(alternatives/[0-9]{2,}/)?pieces/[0-9]{2,})\.ply$")
]
OffcutMesh = Annotated[str, Field(pattern=_HOME + r"offcuts/[0-9]{2,}\.ply$")]
OffcutFile = Annotated[str, Field(pattern=_HOME + r"offcuts/[0-9]{2,}\.toml$")]
OffcutLabel = Annotated[str, Field(pattern=_HOME + r"offcuts/[0-9]{2,}-label\.svg$")]
FlawMesh = Annotated[str, Field(pattern=r"^flaws/[0-9]{2,}\.ply$")]
