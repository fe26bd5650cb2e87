"""The stud-grid voxel model: frames, solids drawn into them, spaces of vehicles, boxes, clear space.

In: vehicles and parts. Out: arrays over voxels with axes (x, y, z), and boxes in whole tenths of a
millimetre.

A `frame.Frame` says where voxels lie; `draw` draws a solid rounded outwards or inwards;
`space.VehicleSpace` keeps of each voxel the set of states that occur in it, so both readings come from
one array. `boxes` cuts the hull by all faces in tenths and covers it with maximal boxes, which is what
packing sees; `cover` holds the arithmetic of such boxes. `clear` labels clear spaces and their necks,
`clear_radius` is the room around each free voxel; where studs stand says `model/studs.py`.

Begin with `space.VehicleSpace` and `boxes.ExactSpace`.
"""

from fitplan.lattice.boxes import ExactSpace as ExactSpace
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
from fitplan.model.studs import floor_studs as floor_studs
