"""What is kept of playing live, safe against a sudden end: takes as files, attempts and verdicts in a database."""
