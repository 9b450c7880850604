"""What the numbers mean: heat dose, dilution, temperature, and what was typed as a number.

Everything here is pure arithmetic. A unit is part of a name or of a type, never of a guess.
"""
