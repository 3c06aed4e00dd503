"""Pictures of the report as SVG.

``answer`` draws the first screen, ``route`` the charts along one route, with the traces of ``offsets``.
``pair`` prepares what the page draws of two watches, ``strips`` the verdicts. ``chart`` is one chart in two
sizes, ``axes`` its ground.
"""
