"""From stones laid to a whole plan: figures, cuts, marks, looks, alternatives, reasons."""
