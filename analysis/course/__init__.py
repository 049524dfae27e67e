"""How the break went over the face: where it let go first, which way it went, where it hung last."""
