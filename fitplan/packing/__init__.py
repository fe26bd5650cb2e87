"""Where parts can go: the exact engine, ways in and out, and parts in one vehicle on top of both.

`engine` answers in whole numbers and knows no vehicle; `access` asks which moves bring a part in or out;
`vehicle` turns a vehicle and its parts into engine problems and the answers back into places. Routing is
never known here.
"""
