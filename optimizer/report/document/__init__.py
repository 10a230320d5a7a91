"""plan.json: the plan in the models of ``documents``, which check every value."""

from optimizer.report.document.plan import plan_file

__all__ = ["plan_file"]
