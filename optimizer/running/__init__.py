"""The run of the command itself: its streams, its memory, Ctrl-C and its end."""
