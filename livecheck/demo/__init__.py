"""A lesson, a take of it, and the mistakes that were planted in the take."""
