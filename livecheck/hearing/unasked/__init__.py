"""What was struck that nobody asked for: other strings, and ringing ones again."""
