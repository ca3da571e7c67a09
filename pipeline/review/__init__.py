"""The review page: one matter's references read and judged in a browser on this machine.

`app.create_app` makes the application. A page is one file: a frozen dataclass of all its
template may show, pure functions from store rows to it, and a router. `site.Site` is how
a page reads the store, draws a template and knows what stands on every page; `guards`
says who may ask; `door` turns our errors into pages.
"""
