"""What pages and pictures are made with: layers, looks, the page's frame, the 3D view's script.

It knows meshes and nothing of plans, so that every stage which shows something can use it.
"""
