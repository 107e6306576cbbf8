"""A lesson, a take of it, and which mistakes were planted in the take: data that come along, and what a report tells of them."""
