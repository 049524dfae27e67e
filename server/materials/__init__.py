"""What is on the shelf: materials with their figures, own tests, and what fits the place of a part."""
