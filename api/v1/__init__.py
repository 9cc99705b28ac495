"""Version 1 of the API: a page a resource, the index in ``urls.py``."""
