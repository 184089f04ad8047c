"""Between Blender and the library: where it lies, the child process, units. Knows no other room."""
