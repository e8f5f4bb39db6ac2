"""From a study to files that other programs read: GLB, VTK multiblock, CSV."""
