"""The pages: bench, board, hatch and desk, made on the server; a little script of our own adds to them.

    bench, board, hatch, desk   the faces, one folder each
    signing_in, first_run       badge and PIN, the language, the first page; the console's code
    rendering                   a template to a response: language, direction, banners, who is signed in
    forms                       a form that came back, read strictly; a route whose errors are pages
    acting                      asks the department what a form asks for
    live                        tells open pages that something changed, and every second that the server is there
    kept                        what was rendered once and is asked for by many
    astray                      addresses that no page has
    assets                      style, script and shapes, under an address that changes with their content

Every page works on any node: nothing is kept in memory that another node would miss.
"""
