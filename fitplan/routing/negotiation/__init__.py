"""All wires of a vehicle at once, and of the train vehicle by vehicle."""
