"""The rig: what carries buck and sheet on the machine, and the set that reduces it to a smaller opening."""
