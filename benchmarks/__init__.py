"""Repeatable comparisons. Each module makes one page of tables in results/; see README.md."""
