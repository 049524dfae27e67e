"""One half read as a whole: road spacing, walls and places together."""
