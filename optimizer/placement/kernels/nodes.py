"""Compiled bounds of the nodes of branch and bound, for rough with hollows.

No stone may enter a *ball*: a point of the surface with the clearance about it, or a flaw. The
node's relaxed stone may swallow some balls. The deepest of them is treated first: rows that keep it
off (``node_rows``) go into the node's program until the relaxed stone violates none; then each
facet that may still keep the ball off is tried in turn. A *note* is what a node knows of a ball,
and its children inherit it: one point of the ball, and the facet that is known to keep that point
off, or -1 while the note is *open*.
"""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.balls import Scratch, deepest, depth_of, near_balls
from optimizer.placement.kernels.cells import cell_rows
from optimizer.placement.kernels.node_program import (
    UNKNOWNS,
    WORKING,
    Program,
    highest,
    keep_what_matters,
    start_program,
    take_row,
)
from optimizer.placement.kernels.node_rows import (
    TRIFLE,
    Node,
    dot,
    facet_row,
    lay_facets,
    relaxed_row,
    separating_facets,
    stone_point,
    turned_by,
)
from optimizer.placement.kernels.rows import put
from optimizer.placement.kernels.voids import keep_corners_out

SIZE = 3  # its number among the unknowns
ROUNDS = 3  # of rows against what the relaxed stone swallows
CORNER_ROUNDS = 6  # of rows against the voids that its corners are in, each time
LIKE = 12  # more facets than these have no plane in common worth a row
CHILDREN = 4  # of a node, at most, one for each facet that may keep a ball off
WORTH = 0.7  # of the node's range of sizes that such children keep on average, at most
INFEASIBLE = -1.0  # the bound of a node that holds no stone


class Notes(NamedTuple):
    """What a node knows of balls, the empty ones last."""

    marks: Ints  # (k, 3) ball or -1, the way out of a stone in which its point was laid, facet
    points: Floats  # (k, 3) of the balls, scan frame


class Batch(NamedTuple):
    """Nodes to bound."""

    rotations: Floats  # (n, 3, 3) the cells' middles
    radii: Floats  # (n,)
    sides: Floats  # (n, 6, 4) of the cells
    middles: Floats  # (n, 3) of the boxes
    halves: Floats  # (n, 3) of the boxes
    highs: Floats  # (n,) greatest sizes
    extra: Floats  # (n, e, 5) more rows over (t, s; limit), t from the scan frame's origin
    marks: Ints  # (n, k, 3) of the notes
    points: Floats  # (n, k, 3) of the notes
    far: Ints  # (n, w) by bits: which of the first BITS·w balls no stone of the node can swallow


@compiled
def _lay_point(stone, room, notes, j, rotation):
    """The point of a noted ball that lies in its way out of a stone so turned."""
    ball, way = notes.marks[j, 0], notes.marks[j, 1]
    for k in range(3):
        reach = dot(rotation[k], stone.ways[way])
        notes.points[j, k] = room.balls[ball, k] - room.radii[ball] * reach


@compiled
def _lay_open(stone, room, notes, rotation):
    """Let the open notes' points lie in their ways out of a stone so turned."""
    for j in range(notes.marks.shape[0]):
        if notes.marks[j, 0] < 0:
            break
        if notes.marks[j, 2] < 0:
            _lay_point(stone, room, notes, j, rotation)


@compiled
def _note(stone, room, notes, ball, way, rotation, g, h):
    """Note the point of a ball that lies in a way out of {x : g·x <= h}; where there is no room, in
    place of the one that stays off farthest. An open note of the same moves its point there; one
    whose facet is known keeps its point, and if that one lies inside as well it is enough."""
    marks, place, least = notes.marks, -1, np.inf
    for j in range(marks.shape[0]):
        if marks[j, 0] < 0:
            place = j
            break
        depth = depth_of(notes.points[j], g, h)
        if marks[j, 0] == ball and marks[j, 1] == way:
            if marks[j, 2] < 0:
                place = j
                break
            if depth > 0.0:
                return
        if depth < least:
            place, least = j, depth
    marks[place, 0], marks[place, 1], marks[place, 2] = ball, way, -1
    _lay_point(stone, room, notes, place, rotation)


@compiled
def _separating_facets_of(stone, node, scratch, point, facet):
    """How many facets, or of how many the one that is known (or -1), may keep a noted point off:
    their numbers in ``scratch.which``."""
    count = separating_facets(stone, node, scratch.bars, point, scratch.which)
    if facet < 0:
        return count
    known = 0
    for i in range(count):
        if scratch.which[i] == facet:
            known = 1
    scratch.which[0] = facet
    return known


@compiled
def _swallows(stone, room, node, program, notes, scratch):
    """Note the ball that the relaxed stone swallows deepest: whether there is one."""
    x = program.x
    rotation = turned_by(node.rotation, x[4:], x[3])
    place = node.middle + x[:3]
    lay_facets(stone, rotation, place, x[3], scratch.far_g, scratch.far_h)
    near, trifle = scratch.near[: scratch.near_count[0]], TRIFLE * node.high
    g, h = scratch.far_g, scratch.far_h
    ball, way = deepest(stone, room, near, place, rotation, g, h, trifle)
    if ball < 0:
        ball, way = deepest(stone, room, scratch.every, place, rotation, g, h, trifle)
    if ball >= 0:
        _note(stone, room, notes, ball, way, rotation, g, h)
    return ball >= 0


@compiled
def _keep_off(stone, node, program, notes, scratch, at_x):
    """Take in the rows of noted balls that x, or the middle stone, misses: False where a ball
    can't be kept off at all."""
    for j in range(notes.marks.shape[0]):
        if notes.marks[j, 0] < 0:
            break
        point = stone_point(node, notes.points[j])
        count = _separating_facets_of(stone, node, scratch, point, notes.marks[j, 2])
        if count == 0:
            return False
        if count <= LIKE:
            over, limit = relaxed_row(
                stone, node, point, scratch.which, count, program.x, at_x, scratch.row,
                scratch.best_row,
            )  # fmt: skip
            if over > TRIFLE * node.high:
                take_row(program, scratch.best_row, limit)
    return True


@compiled
def _can_be_kept_off(stone, node, notes, scratch):
    """Whether each noted ball is, somewhere in the node, by some facet."""
    for j in range(notes.marks.shape[0]):
        if notes.marks[j, 0] < 0:
            break
        point = stone_point(node, notes.points[j])
        if _separating_facets_of(stone, node, scratch, point, notes.marks[j, 2]) == 0:
            return False
    return True


@compiled
def _start(stone, room, node, extra, program, scratch):
    """The node's program with the hull's rows."""
    start_program(program, node, extra)
    for j in range(room.normals.shape[0]):
        scratch.room[j] = room.limits[j] - dot(room.normals[j], node.middle)
    program.counts[1] = cell_rows(
        room.normals, scratch.room, stone.corners, stone.lengths, node.rotation, node.radius,
        program.hull_rows, program.hull_limits,
    )  # fmt: skip
    keep_what_matters(program, node)


@compiled
def _corners_out(stone, room, node, program, scratch, value, solved):
    """Keep the relaxed stone's corners out of voids: (bound, whether the program is solved)."""
    for _ in range(CORNER_ROUNDS):
        if value < node.low or not solved:
            break
        x = program.x
        rotation = turned_by(node.rotation, x[4:], x[3])
        taken = keep_corners_out(
            stone, room.voids, node, program, node.middle + x[:3], rotation, x[3], scratch.row
        )
        if taken < 0:
            return INFEASIBLE, False
        if taken == 0:
            break
        value, solved = highest(program, np.int64(SIZE), 1.0, np.bool_(False), TRIFLE * node.high)
    return value, solved


@compiled
def _relaxed(stone, room, node, extra, far, program, notes, scratch):
    """The node's bound by rows alone: (bound, whether the relaxed stone swallows a ball)."""
    lay_facets(stone, node.rotation, node.middle, node.low, scratch.g, scratch.h)
    for i in range(scratch.g.shape[0]):
        scratch.bars[i] = 0.0
        for k in range(3):
            scratch.bars[i] += abs(scratch.g[i, k]) * node.half[k]
    if not near_balls(stone, room, node, far, scratch):
        return INFEASIBLE, False
    _lay_open(stone, room, notes, node.rotation)
    near = scratch.near[: scratch.near_count[0]]
    ball, way = deepest(
        stone, room, near, node.middle, node.rotation, scratch.g, scratch.h, 0.0
    )  # fmt: skip
    if ball >= 0:
        _note(stone, room, notes, ball, way, node.rotation, scratch.g, scratch.h)
    if not _can_be_kept_off(stone, node, notes, scratch):
        return INFEASIBLE, False
    _start(stone, room, node, extra, program, scratch)
    _keep_off(stone, node, program, notes, scratch, np.bool_(False))
    outside = keep_corners_out(
        stone, room.voids, node, program, node.middle, node.rotation, node.low, scratch.row
    )
    if outside < 0:
        return INFEASIBLE, False
    value, solved = highest(program, np.int64(SIZE), 1.0, np.bool_(True), TRIFLE * node.high)
    for _ in range(ROUNDS):
        value, solved = _corners_out(stone, room, node, program, scratch, value, solved)
        if value < node.low or not solved:
            break
        if not _swallows(stone, room, node, program, notes, scratch):
            return value, False
        before = program.counts[0]
        if not _keep_off(stone, node, program, notes, scratch, np.bool_(True)):
            return INFEASIBLE, False
        if program.counts[0] == before:
            break
        value, solved = highest(program, np.int64(SIZE), 1.0, np.bool_(False), TRIFLE * node.high)
    return value, True


@compiled
def _worst_note(stone, node, notes, scratch):
    """The open note whose ball the relaxed stone swallows deepest, or -1."""
    worst, place = TRIFLE * node.high, -1
    for j in range(notes.marks.shape[0]):
        if notes.marks[j, 0] < 0:
            break
        if notes.marks[j, 2] >= 0:
            continue
        depth = depth_of(notes.points[j], scratch.far_g, scratch.far_h)
        if depth > worst:
            point = stone_point(node, notes.points[j])
            if _separating_facets_of(stone, node, scratch, point, notes.marks[j, 2]) <= LIKE:
                worst, place = depth, j
    return place


@compiled
def _tried(stone, node, program, scratch, point, count, value, left):
    """Try each facet that may keep a ball off: (how many may yet, the highest bound among them,
    the share of the range of sizes that they keep on average); their numbers into ``left``."""
    used, x, basis = program.counts[0], program.x.copy(), program.basis.copy()
    alive, top, kept = 0, INFEASIBLE, 0.0
    for i in range(count):
        limit = facet_row(stone, node, scratch.which[i], point, scratch.row)
        take_row(program, scratch.row, limit)
        bound, _ = highest(program, np.int64(SIZE), 1.0, np.bool_(False), TRIFLE * node.high)
        program.counts[0] = used
        put(program.basis, basis)
        put(program.x, x)
        if bound >= node.low:
            left[alive] = scratch.which[i]
            alive += 1
            top = max(top, bound)
            kept += (bound - node.low) / max(value - node.low, TRIFLE * node.low)
    return alive, top, kept / max(alive, 1)


@compiled
def _probed(stone, room, node, program, notes, scratch, value, choice):
    """Sharpen the bound by trying facets: the bound. ``choice`` receives a note's number and the
    facets to branch on, where that is worth it."""
    left = np.empty(LIKE, np.int64)
    while value >= node.low and program.counts[0] < WORKING:
        if not _swallows(stone, room, node, program, notes, scratch):
            break
        place = _worst_note(stone, node, notes, scratch)
        if place < 0:
            break
        point = stone_point(node, notes.points[place])
        count = _separating_facets_of(stone, node, scratch, point, notes.marks[place, 2])
        alive, top, kept = _tried(stone, node, program, scratch, point, count, value, left)
        value = min(value, top)
        if alive > 1:
            if alive <= CHILDREN and kept <= WORTH:
                choice[0] = place
                put(choice[1:], left[:alive])
            break
        if alive == 1:
            notes.marks[place, 2] = left[0]
            limit = facet_row(stone, node, left[0], point, scratch.row)
            take_row(program, scratch.row, limit)
            bound, solved = highest(
                program, np.int64(SIZE), 1.0, np.bool_(False), TRIFLE * node.high
            )
            value = min(value, bound)
            if not solved:
                break
    return value


@compiled
def _shrunk(program, node, middle, half):
    """Make the box as small as the program's rows say: whether anything of it is left."""
    for k in range(3):
        up, _ = highest(program, k, 1.0, np.bool_(True), TRIFLE * node.high)
        down, _ = highest(program, k, -1.0, np.bool_(True), TRIFLE * node.high)
        if up + down < 0.0:
            return False
        middle[k] += 0.5 * (up - down)
        half[k] = min(0.5 * (up + down) * (1.0 + 1e-12) + 1e-15, half[k])
    return True


@compiled
def _lies_clear(stone, room, node, program, scratch, pose):
    """Whether the least stone of the node lies clear of all balls where the relaxed one stands:
    place and rotation into ``pose``."""
    x = program.x
    rotation = turned_by(node.rotation, x[4:], x[3])
    put(pose, node.middle + x[:3])
    put(pose[3:], rotation.ravel())
    lay_facets(stone, rotation, pose[:3], node.low, scratch.far_g, scratch.far_h)
    near, trifle = scratch.near[: scratch.near_count[0]], TRIFLE * node.high
    g, h = scratch.far_g, scratch.far_h
    if deepest(stone, room, near, pose, rotation, g, h, trifle)[0] >= 0:
        return False
    return deepest(stone, room, scratch.every, pose, rotation, g, h, trifle)[0] < 0


@compiled
def bound_nodes(stone, room, batch, low, choices, poses):
    """For each of n nodes a proven bound of any stone in it of size ``low`` or more: (n,).

    ``INFEASIBLE``, or any bound below ``low``, says that there is none. Changed in place: the
    batch's boxes, made smaller for stones of size ``low`` or more, its notes, and which balls are
    far; ``choices`` (n, 5), the note and facets to branch on, or -1; ``poses`` (n, 13), place and
    rotation by rows of the least stone where the relaxed one stands, and a 1 where it swallows
    nothing.
    """
    m, p = stone.facets.shape[0], room.normals.shape[0]
    hull_rows = p * stone.corners.shape[0]
    scratch = Scratch(
        np.empty((m, 3)), np.empty(m), np.empty((m, 3)), np.empty(m), np.empty(m), np.empty(p),
        np.empty(m, np.int64), np.empty(UNKNOWNS), np.empty(UNKNOWNS),
        np.empty(len(room.radii), np.int64), np.zeros(1, np.int64), np.arange(len(room.radii)),
    )  # fmt: skip
    program = Program(
        np.empty((WORKING, UNKNOWNS)), np.empty(WORKING), np.empty((hull_rows, UNKNOWNS)),
        np.empty(hull_rows), np.zeros(2, np.int64), np.empty(UNKNOWNS), np.zeros(UNKNOWNS),
        np.zeros(UNKNOWNS, np.int64),
    )  # fmt: skip
    bounds = np.empty(len(batch.radii))
    for c in range(len(batch.radii)):
        middle, half = batch.middles[c].copy(), batch.halves[c].copy()
        node = Node(
            batch.rotations[c], batch.radii[c], batch.sides[c], middle, half,
            np.sqrt(half @ half), low, batch.highs[c],
        )  # fmt: skip
        notes = Notes(batch.marks[c], batch.points[c])
        value, swallows = _relaxed(
            stone, room, node, batch.extra[c], batch.far[c], program, notes, scratch
        )  # fmt: skip
        if value >= low and swallows:
            value = _probed(stone, room, node, program, notes, scratch, value, choices[c])
        if value >= low and _lies_clear(stone, room, node, program, scratch, poses[c]):
            poses[c, 12] = 1.0
        if value >= low and not _shrunk(program, node, batch.middles[c], batch.halves[c]):
            value = INFEASIBLE
        bounds[c] = value
    return bounds
