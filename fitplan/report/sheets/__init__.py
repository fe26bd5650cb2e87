"""The printed sheets at 1:1: every vehicle layer by layer, steps, lists to tick, the wiring.

In: a plan and a paper size. Out: PDF bytes. `printed_sheets` decides what stands on which page,
`sheet_table` lays out tables. Begin with `printed_sheets.printed_sheets`.
"""
