"""The report page: one HTML file with everything inside, opened from disk without a network.

In: a plan. Out: bytes. `page.py` fills `report.html.j2`; the script is made from `src/` by `npm run
build` and kept as `page.js` with the hash of its sources; `style.css` has light, dark and print.
"""
