"""Names of the files that every plan has: known before anything is loaded that makes them."""

ALWAYS = (
    "report.html",
    "sheets.pdf",
    "summary.txt",
    "lists.xlsx",
    "parts.csv",
    "harness.csv",
    "bundles.csv",
    "drawings/wiring.svg",
    "meshes/train.glb",
    "plan.json",
    "plan.schema.json",
)
"""Files that every plan has: whether they may be written is asked before there is a plan."""
