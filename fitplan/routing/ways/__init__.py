"""One wire: its shortest way through free voxels, pulled taut, with room for its bends.

In: a map of free voxels, ends, the wire's diameter. Out: voxel ways (`shortest_ways`), taut ways in mm
(`taut`), what its corners need (`bends`, `bend_room`), the price of leaving floors and corners
(`preferences`).

Begin with `shortest_ways.WayMap.way` and `taut.Tautener`. Lengths of voxel ways are whole numbers, so
equal ways compare equal.
"""
