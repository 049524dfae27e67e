"""Shares, gaps, planes, sections and counts, with their intervals; the outer surface."""
