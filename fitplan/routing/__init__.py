"""Where wires can go, from the ground up: ways, map, trees, negotiation, harness.

A single wire (`ways`), a vehicle's free room (`map`), nets of many ends (`trees`), all wires of a vehicle
at once (`negotiation`), and what is cut, crimped and coupled (`harness`). Packing is never known here.
"""
