"""Atomic writing of files and folders: whole or not at all, also where the program is killed."""

from fillwright.atomic.disk import describe_reason
from fillwright.atomic.files import open_file, write_file
from fillwright.atomic.folders import link_or_copy, write_folder
from fillwright.atomic.leftovers import make_temporary_folder
from fillwright.atomic.together import write_together

__all__ = [
    "describe_reason",
    "link_or_copy",
    "make_temporary_folder",
    "open_file",
    "write_file",
    "write_folder",
    "write_together",
]
