#!/usr/bin/env python3
"""A general mesh library loads a file, splits it into bodies and takes the volume of the whole.

Prints the seconds that took, without the start of Python and the import, how many bodies there are,
and the volume. The library is MeshLib (PyPI: meshlib), C++ inside; it welds while it reads."""
import sys
import time

from meshlib import mrmeshpy as mm

start = time.perf_counter()
mesh = mm.loadMesh(sys.argv[1])
_, count = mm.MeshComponents.getAllComponentsMap(mm.MeshPart(mesh))
volume = mesh.volume()
print(time.perf_counter() - start, count, volume)
