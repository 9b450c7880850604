"""The bench: one scan at a time, from a framed string to one of three answers, in the worker's language.

page         the routes
place        who is where: a person in a session, or a screen with nobody signed in
grammar      what waits for its next word: item then command, or command then many items
scan         what one scan does
questions    what a step still needs: a count, a reading, a bath, a second person, a PIN
showing      what is shown, in words
clocks       running clocks, by time to the next action, with the letters of the mat
kept         facts that the page kept while the server was away
calibration  a measured bar, so that digits are as large as they must be
"""
