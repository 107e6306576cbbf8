"""Where on the neck something can be played: strings, bar, pedals and levers; values in, values out."""
