"""Pictures for supervisors: drawn here as SVG, each with its text alternative and the table of the same rows.

    picture       what a picture is: drawing, text alternative, caption, table; the frame in which it is made
    instants      instants as local text, and the marks of a time line
    looks         fills and shapes that stay apart without colour
    layers        the parts of a Vega-Lite description that the pictures share
    drawing       description -> SVG, in a process of its own; `worker` is that process, `svg` what is done afterwards
    rows          what the pictures show, as plain rows, from the record's own entries and standings
    life          one item's life: stages, contact, drying, loads, holds, out
    baths         solutions from made to ended, with tests, contacts and suspect windows
    trace         a look-back as a graph
    competencies  who can do what
    holds         how long holds have been open

Each of the last five has one pure function from rows to a `Plot`; `drawing.drawn` makes it a `Picture`. Without the
extra `desk` there is no drawing, and the table says the same.

The descriptions are Vega-Lite (version 6, https://vega.github.io/vega-lite/docs/) as plain JSON; vl-convert draws them
with the library itself. Altair, which writes the same JSON from Python, checks them in the tests against its schema and
is not needed here: it alone takes 53 MB of memory.
"""
