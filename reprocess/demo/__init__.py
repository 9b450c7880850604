"""The fictional Larkmoor network: its department, its clock and one day's story. Every name is invented."""
