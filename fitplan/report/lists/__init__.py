"""Every list of a plan as plain tables, and how values are worded in them."""
