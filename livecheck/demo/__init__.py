"""Data that come along: a lesson, a take of it, and which mistakes were planted in the take."""
