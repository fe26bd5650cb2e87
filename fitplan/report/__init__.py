"""A Plan in, bytes out: tables, lists, page, sheets, drawings."""
