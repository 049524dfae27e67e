"""The working view of a face, and its walls straightened along their length."""
