"""Accepting photos, pictures derived from them, and their preparing: scale and outline."""
