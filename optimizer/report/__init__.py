"""The plan's folder, its page and its lines on the terminal.

``page`` is a list of ``sections``; ``scene`` is the one list of layers that the page's 3D view and
scene.glb are made from; ``document`` makes plan.json.
"""

from optimizer.report.files import write_plan
from optimizer.report.summary import summary

__all__ = ["summary", "write_plan"]
