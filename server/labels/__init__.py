"""Labels for the bags with the pieces: a code that leads back to the case, and what a person reads beside it."""
