"""What a MIDI instrument gives: the same notes and glances as sound does."""
