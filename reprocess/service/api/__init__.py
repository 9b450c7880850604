"""The routes, by noun; each module holds one `router`."""
