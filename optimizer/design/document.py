"""A design as design.json and pictures, for other programs and for the bench."""

import json
from pathlib import Path
from typing import Any

import numpy as np

from optimizer.design.body import build_body
from optimizer.design.model import Body, Design
from optimizer.design.picture import picture_svg
from optimizer.design.sequence import Step, sequence
from optimizer.view.drawing_png import drawn_png

FORMAT = "kerfwise-design/1"
ON_PLANE = 1e-9  # of the width: a facet this near to a corner runs through it


def write_design(design: Design, folder: Path) -> None:
    """Write design.json, design.svg and design.png into ``folder``, at the usual values.

    Raises InputError where the design can't be built.
    """
    drawing = picture_svg(build_body(design))
    text = json.dumps(design_document(design), indent=1, ensure_ascii=False)
    (folder / "design.json").write_text(text + "\n", encoding="utf-8")
    (folder / "design.svg").write_text(drawing, encoding="utf-8")
    (folder / "design.png").write_bytes(drawn_png(drawing))


def design_document(design: Design) -> dict[str, Any]:
    """What design.json says, at the usual values: sizes at width 1, angles in degrees.

    A facet's outward normal has the azimuth 360·setting/gear about +z and leans by its angle from
    the axis, up on the crown and down on the pavilion. The stone is the intersection of the final
    facets' half-spaces.
    """
    body, steps = build_body(design), sequence(design)
    return {
        "format": FORMAT,
        "name": design.name,
        "title": design.title,
        "outline": design.outline.description,
        "gear": design.gear,
        "parameters": {
            name: {"default": known.default, "low": known.low, "high": known.high}
            for name, known in design.parameters.items()
        },
        "tiers": [_tier(step) for step in steps],
        "meets": _meets(body, steps),
        "volume": body.unit_volume,
    }


def _tier(step: Step) -> dict[str, Any]:
    row = step.row
    facets = zip(row.settings, row.angles_deg, step.offsets.tolist(), strict=True)
    return {
        "name": row.name,
        "side": row.side,
        "cut_to": row.cut_to,
        "final": step.is_final,
        "facets": [
            {"setting": setting, "angle_deg": angle, "distance": distance}
            for setting, angle, distance in facets
        ],
    }


def _meets(body: Body, steps: tuple[Step, ...]) -> list[dict[str, Any]]:
    """Every corner of the stone, with the facets that run through it."""
    facets = {
        name: {"tier": step.tier.rule.name, "setting": setting}
        for step in steps
        for name, setting in zip(step.names, step.tier.rule.settings, strict=True)
    }
    out = np.abs(body.vertices @ body.normals.T - body.offsets)
    return [
        {
            "facets": [facets[body.facet_names[k]] for k in np.flatnonzero(row <= ON_PLANE)],
            "point": point,
        }
        for row, point in zip(out, body.vertices.tolist(), strict=True)
    ]
