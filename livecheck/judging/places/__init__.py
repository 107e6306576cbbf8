"""Which figures were played, and where in the take each lies."""
