"""One picture made of several photos of a face: choosing and ordering, making it in the worker, showing and undoing."""
