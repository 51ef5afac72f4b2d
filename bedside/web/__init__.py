"""Doors: one module a person. Each module here that holds a Blueprint named `pages` is wired in by `app.py`.

Law of a route: gather what is needed, call one pure function, write or render the answer. Who may open it
stands in `people/roles.py` and nowhere else; an endpoint that is not listed there is shut.
"""
