"""Photo and scale: from bytes to a calibrated image."""
