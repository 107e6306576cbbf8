"""The pitch of each string through time."""
