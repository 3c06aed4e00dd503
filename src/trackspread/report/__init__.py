"""The report: one page and one map that open offline, made of finished figures.

`write` makes and places everything, `page` fills the templates: `answer` is what the first screen shows,
`charts` are the pictures, `route_map` the map over `backdrop`; `page_tables`, `page_notes` and `pair_figures`
are what stands beside, and `keys` say what it means. `style` and `watches` say how all looks, `policy` what a
page may do. `simple_page` is the frame of pages of other rooms; `drawing` and `plot` are matplotlib, for
stills and notebooks.
"""
