"""The drop page: a server for one person on this machine, who drops traces and takes a report away.

`server` opens and ends it, `gate` says who may speak to it, `store` keeps what was dropped, `rows` tells
what was read and takes corrections, `job` does one long thing at a time, `results` hands out what was
written, `app` maps addresses to these.
"""
