"""What any sound gives, whatever is played: samples, spectra, partials, onsets and what is new at each."""
