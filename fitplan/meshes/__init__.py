"""Meshes in and out: the only room that knows trimesh."""
