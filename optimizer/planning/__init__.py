"""From placed stones to a whole plan: figures, cuts, marks, looks, alternatives, reasons."""
