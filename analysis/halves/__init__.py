"""Two mating faces laid on each other."""
