"""Who is it: PINs, sessions, tokens and single sign-on; the only package that imports argon2 and Authlib."""
