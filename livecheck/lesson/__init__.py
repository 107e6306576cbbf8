"""Lessons as values: from the written file to the curves that are expected. Pure: no files, no clock."""
