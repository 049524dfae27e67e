"""Where the face ends: its outline and holes."""
