"""The stud-grid voxel model: frames, solids drawn into them, spaces of vehicles, boxes, clear space."""

from fitplan.lattice.draw import Rounding as Rounding
from fitplan.lattice.draw import draw as draw
from fitplan.lattice.frame import Frame as Frame
from fitplan.lattice.frame import frame_of as frame_of
from fitplan.lattice.space import VehicleSpace as VehicleSpace
from fitplan.lattice.studs import floor_studs as floor_studs
