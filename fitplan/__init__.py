"""Plan where controllers, sensors, cells and wires go inside brick-built trains."""

__version__ = "0.1.0"
