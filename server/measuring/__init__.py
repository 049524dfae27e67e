"""The queue, the worker, the one door to analysis/, and the pictures of what was found."""
