"""From samples or MIDI messages to observations: what sounds, when, at which pitch. Pure: no files, no clock, no
devices."""
