"""Work longer than a request: asked for on a page, done by a worker, seen on that page."""
