"""What was right and wrong in one attempt, and how sure that is."""
