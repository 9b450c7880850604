"""The month at Larkmoor: thirty-five days at three sites, over both changes of the clocks. Everything is invented."""
