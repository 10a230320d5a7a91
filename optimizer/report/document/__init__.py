"""plan.json: the plan told by the models of ``documents``, which check all that is written."""

from optimizer.report.document.plan import plan_file

__all__ = ["plan_file"]
