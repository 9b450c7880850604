"""What the numbers mean: heat dose, dilution, temperature, airflow, battery, calendar, and what was typed as a number.

Decay, kinetics, reduction and equivalence are advice: no contact time is ever computed from them, the label governs.

Everything here is pure arithmetic. A unit is part of a name or of a type, never of a guess.
"""
