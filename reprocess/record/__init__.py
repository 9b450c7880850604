"""What has happened: entries, their stored form, the chain that binds them, and the standing folded from them."""
