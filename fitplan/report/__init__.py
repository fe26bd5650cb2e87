"""A plan in, bytes out: lists, drawings, page, sheets, terminal.

`plan_folder.plan_files` gives every file of a plan by name; `comparison` tells what changed between two
plans. Nothing else in the package imports these rooms but the command line and the Python surface.
"""
