"""The stud-grid voxel model: frames, solids drawn into them, spaces of vehicles, boxes, clear space."""

from fitplan.lattice.boxes import ExactSpace as ExactSpace
from fitplan.lattice.boxes import free_boxes as free_boxes
from fitplan.lattice.boxes import obstacle_boxes as obstacle_boxes
from fitplan.lattice.boxes import part_boxes as part_boxes
from fitplan.lattice.boxes import removable_boxes as removable_boxes
from fitplan.lattice.clear import largest_box as largest_box
from fitplan.lattice.cover import IntBox as IntBox
from fitplan.lattice.draw import draw as draw
from fitplan.lattice.frame import Frame as Frame
from fitplan.lattice.frame import Rounding as Rounding
from fitplan.lattice.frame import frame_of as frame_of
from fitplan.lattice.space import VehicleSpace as VehicleSpace
from fitplan.lattice.studs import floor_studs as floor_studs
