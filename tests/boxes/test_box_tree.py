"""The tree of boxes over triangles, against the triangles themselves."""

import numpy as np
import pytest
import shapes

from optimizer.boxes.tree import box_tree, box_tree_over


@pytest.mark.parametrize("name", sorted(shapes.all_rough()))
def test_a_tree_s_boxes_and_slabs_hold_their_triangles(name: str) -> None:
    mesh = shapes.all_rough()[name]
    tree = box_tree(mesh.vertices, mesh.faces)
    assert np.array_equal(tree.triangles, mesh.triangles[tree.order])
    assert np.array_equal(np.sort(tree.order), np.arange(len(mesh.faces)))
    n, leaves = len(tree.triangles), tree.leaves
    slack = 1e-12 * np.abs(tree.triangles).max()
    for node, box in enumerate(tree.boxes):
        depth = (node + 1).bit_length() - 1
        span = leaves >> depth
        j = (node + 1 - (1 << depth)) * span
        corners = tree.triangles[j * n // leaves : (j + span) * n // leaves].reshape(-1, 3)
        heights = corners @ box[6:9]
        assert np.array_equal(corners.min(axis=0), box[:3])
        assert np.array_equal(corners.max(axis=0), box[3:6])
        assert box[9] - slack <= heights.min()
        assert heights.max() <= box[10] + slack
        assert np.linalg.norm(box[6:9]) == pytest.approx(1.0, abs=1e-12) or not box[6:9].any()


def test_triangles_at_one_place_keep_their_order() -> None:
    tree = box_tree_over(np.tile(np.eye(3), (9, 1, 1)))
    assert list(tree.order) == list(range(9))
    assert (tree.triangles == np.eye(3)).all()
