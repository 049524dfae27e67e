"""The count by hand on the page and in the record."""
