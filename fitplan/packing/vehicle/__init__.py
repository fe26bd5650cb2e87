"""Parts in one vehicle: seats that mounts allow, packing, what is missing, support, the least rebuild."""
