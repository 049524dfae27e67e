"""How long parts last: ages of builds in use, curves, comparisons, and under-extrusion by printer over time."""
