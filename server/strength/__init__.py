"""Loads that may have broken a face, held against what its welds can bear."""
