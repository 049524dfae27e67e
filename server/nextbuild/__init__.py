"""The next build: what it is planned from, the ranked plans, the choice, colleagues' opinions, and what came of it."""
