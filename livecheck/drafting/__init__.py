"""From what was played to a lesson that asks for it, without a lesson to begin with; values in, values out."""
