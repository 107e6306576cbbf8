"""Where strings end: silenced too soon, in time or too late."""
