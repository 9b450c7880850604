"""The hatch: what a ward does at the counter. `page` has the routes, `forms` what they ask, `shown` what is shown."""
