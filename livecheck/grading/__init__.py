"""Takes graded from files: one, a class, an archive; on this machine's cores or on a cluster."""
