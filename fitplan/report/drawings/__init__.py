"""Drawings in millimetres: layers, steps, the train, the wiring; SVG and PDF behind one interface."""
