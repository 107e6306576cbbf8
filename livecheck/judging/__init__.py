"""From what was heard to verdicts. Pure: knows neither files nor devices, nor which kind of source it was."""
