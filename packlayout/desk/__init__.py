"""The desk: the same job by hand, on a page in the browser.

`state` and `operations` say what can be done to a layout, `history` keeps every state on disk, `session` holds the
truth and answers the page, `numbers` asks the same functions as the command line, `worker` runs what takes seconds in
a process of its own, `server` and `guard` are the only way in. `static` is what the browser gets; its script is
bundled from `page`.
"""
