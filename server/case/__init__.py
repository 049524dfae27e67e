"""The case page: all of one failure, in working order."""
