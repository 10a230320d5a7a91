"""What is written: a folder or a file, complete or absent, and nothing of others' lost."""

from optimizer.folder.one_file import ask_new, write_new, writing
from optimizer.folder.spared import spare
from optimizer.folder.whole import whole_folder

__all__ = ["ask_new", "spare", "whole_folder", "write_new", "writing"]
