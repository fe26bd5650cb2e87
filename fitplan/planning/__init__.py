"""Where places and wires meet: the choice over the train, the run of a plan, what else would fit."""
