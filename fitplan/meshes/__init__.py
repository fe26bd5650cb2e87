"""The only room that knows trimesh: a mesh in, a vehicle file out; a plan in, meshes out.

In: STL, OBJ, PLY, GLB, glTF, 3MF or OFF (`scene_in`), or a few measurements (`forms`). Out: a drawn
vehicle with proposals to confirm; clear spaces with their necks; GLB and STL of a plan.

The way of a mesh: units and up (`scale`), voxels of its surface (`surface`), what is solid and what is
inside (`fill`, `interior`), round walls and studs recognised (`rounds`, `mesh_studs`), true levels
(`true_faces`), what objects' names say (`marks`), openings and gaps proposed (`proposals`), text
(`vehicle_text`). Normals are never trusted.

Begin with `from_mesh.vehicle_from_mesh`; the other way is `mesh_out`.
"""
