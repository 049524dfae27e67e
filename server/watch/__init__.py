"""Sending what other software saves into a folder to a face, over the published interface."""
