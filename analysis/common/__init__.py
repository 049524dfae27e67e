"""What every stage may use: class codes, caveats, polygons as such."""
