"""Which strings were struck, and when: asked picks laid on onsets, and what sounds in place of missing ones."""
