"""Pages to open in a browser: each one file with everything in it, of values only. Nothing in a name becomes markup."""
