"""Twelve pairs of a dense scan and a design, and the most carats that anyone has found for each.

python -m benchmarks.pairs [SECONDS]      seek better ones (about as many seconds a pair)
"""

import json
import sys
from collections.abc import Iterator, Sequence
from itertools import count
from pathlib import Path
from time import perf_counter

from benchmarks.pieces import dense_pieces
from benchmarks.stones import SG, carat, found, offer_of, until
from optimizer.mesh import Mesh, volume
from optimizer.offers.offer import Offer

SKIN_MM = 0.25
SECONDS = 180.0
SAME_CT = 1e-5  # pieces whose weights differ by more are not the same
BEST = Path(__file__).with_name("best_known.json")
PAIRS = (
    ("pebble", "round-brilliant"), ("dented", "oval"), ("bent", "long-hexagon"),
    ("stepped", "round-brilliant"), ("chipped slab", "pear"), ("boulder", "oval"),
    ("lump", "pear"), ("splinter", "long-hexagon"), ("quarry", "round-brilliant"),
    ("two-lobed", "oval"), ("dented", "pear"), ("quarry", "long-hexagon"),
)  # fmt: skip


def pairs(chosen: Sequence[tuple[str, str]] = PAIRS) -> Iterator[tuple[str, str, Mesh, Offer]]:
    """Piece, design, the dense mesh and the offer of every pair whose piece is there."""
    pieces = dense_pieces()
    for piece, design in chosen:
        if piece in pieces:
            yield piece, design, pieces[piece](), offer_of(design, SKIN_MM)
        else:
            print(f"left out: the scan of {piece} is not there")


def best_known(piece: str, design: str, mesh: Mesh) -> float | None:
    """The most carats found so far in this very piece; None where there are none."""
    entry = _table().get(f"{piece} / {design}")
    if entry is None or abs(entry["rough_ct"] - _rough_ct(mesh)) > SAME_CT:
        return None
    return entry["ct"]


def raise_best(piece: str, design: str, mesh: Mesh, ct: float) -> bool:
    """Keep ``ct`` where it is more than what is known; whether it was."""
    if ct <= (best_known(piece, design, mesh) or 0.0):
        return False
    entry = {"ct": round(ct, 6), "rough_ct": round(_rough_ct(mesh), 6)}
    table = {**_table(), f"{piece} / {design}": entry}
    BEST.write_text(json.dumps(table, indent=2, sort_keys=True) + "\n", encoding="utf-8")
    return True


def _table() -> dict[str, dict[str, float]]:
    return dict(json.loads(BEST.read_text(encoding="utf-8"))) if BEST.exists() else {}


def _rough_ct(mesh: Mesh) -> float:
    return volume(mesh) * SG / 200.0


def main(seconds: float = SECONDS) -> None:
    """Search each pair at thorough effort, seed after seed, until the time is up."""
    for piece, design, mesh, offer in pairs():
        started = perf_counter()
        for seed in count(1):
            left = seconds - (perf_counter() - started)
            if left <= 0.0:
                break
            stone = found(mesh, offer, "thorough", seed=seed, watch=until(left))
            ct = carat(offer, stone.width_mm)
            raised = ", raised" if raise_best(piece, design, mesh, ct) else ""
            print(f"{piece} / {design}, seed {seed}: {ct:.4f}{raised}", flush=True)


if __name__ == "__main__":
    main(*(float(seconds) for seconds in sys.argv[1:2]))
