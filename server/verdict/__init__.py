"""Answers and measures weighed, the verdict kept and shown, the person's word."""
