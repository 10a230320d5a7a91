"""What pages and pictures are made with: layers, looks, the page's frame, the 3D view's script.

This package knows meshes and nothing of plans, so every stage that shows something can use it.
"""
