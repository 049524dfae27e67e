"""From measures and answers to weights, and from weights to the verdict."""
