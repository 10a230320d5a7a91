"""Tables of rough files that several tests write."""


def split_zone(towards: str, away: str) -> str:
    """A colour boundary named "split", square to x through the origin."""
    return f"""\
[[zones]]
name = "split"
point_mm = [0, 0, 0]
normal = [1, 0, 0]
towards = {{ colour = "{towards}" }}
away = {{ colour = "{away}" }}
"""


def level_face(name: str, z: int) -> str:
    """A reference face square to z, at ``z`` mm, its normal away from the origin."""
    return f"""\
[[reference_faces]]
name = "{name}"
point_mm = [0, 0, {z}]
normal = [0, 0, {1 if z > 0 else -1}]
"""
