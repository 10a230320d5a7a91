"""Writing results: a folder or file is complete or absent, and other people's files are kept."""

from optimizer.folder.one_file import ask_new, write_new, writing
from optimizer.folder.whole import whole_folder

__all__ = ["ask_new", "whole_folder", "write_new", "writing"]
