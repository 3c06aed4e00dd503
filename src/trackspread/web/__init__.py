"""The drop page: a server for one person on this machine, who drops traces and takes a report away.

`server` opens and ends it, `gate` says who may speak to it, `app` maps addresses to what `session` can do.
A session keeps what was dropped in `store`, reads it (`reading`), shows it (`rows`, `clock`) and takes
corrections; `settings` are what can be chosen. `job` does one long thing at a time, `phases` tell how far it
is, `outcome` is what a run gives, and `results` hands out what was written. `ride_log` is a page apart, for
the phone.
"""
