"""A part through its life: timeline, list, bench."""
