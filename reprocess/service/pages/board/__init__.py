"""The board and the shift handover: `page` has the routes, `rows` what they show."""
