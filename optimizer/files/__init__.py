"""The user's files: how they are read, TOML, and the check against a declared table."""
