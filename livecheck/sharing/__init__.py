"""What was heard and judged, in open formats that other programs read."""
