"""The user's files: read through one door, TOML, checked against a declared table."""
