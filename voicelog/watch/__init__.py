"""A folder that is watched: every recording that appears in it becomes a draft, once.

    folder   which files are complete, and where they go afterwards
    rules    what a file's name and its side-car say about it
    service  Watch: look, take, wait for the job table, put away; survives being killed

The folder is looked at again and again rather than subscribed to: changes on a network share
are announced to nobody.
"""
