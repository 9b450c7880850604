"""The supervisor's desk: a page for each thing that is looked at, and the forms beside it.

start       what waits, with figures that lead on
reviews     exceptions, one by one, signed with what was shown; refusals that repeat
holds       every open one, what settles it, who lifts it, where the item lies
recalls     preview, hold all of it, locate, close; how soon how many were found
lookback    who and what touched something, as a graph and a table
reminders   what is overdue and what comes
solutions   baths on a time line, with their tests and suspect windows
life        one item's life
people      who works here, who may do what, badges, first PINs
workflows   files with diagram (`diagram`), proof, versions, differences; proposing, approving, confirming sources
screens     browsers that show a station with nobody signed in
instants    instants as somebody typed them
"""
